/* Legs of light to one place, eight at a time: what each is worth to it, what screens let through,
 * what haze takes from it on the way and gives back. Inside src/light. */
#ifndef VEILSTOP_LIGHT_KERNEL_LEGS_H
#define VEILSTOP_LIGHT_KERNEL_LEGS_H

#include "light/gather.h"
#include "light/lanes.h"

/* Makes up the last block with empty legs. */
void vs_legs_close(vs_legs *legs);

/* `open` of each leg, times what screens let through. */
void vs_legs_past_screens(vs_legs *legs, const vs_space *space, vs_vec3 at_m);

/* Lengths and cells; `share` and `spread` of each leg, and their sums.
 * The place values light that comes straight by its phase functions, and what was scattered on the
 * way by the phase functions spread by themselves, whose mean cosine is g^2 (moments of phase
 * functions multiply; Henyey & Greenstein's stands for them). */
void vs_legs_worth(vs_legs *legs, const vs_gatherer *gatherer);

/* Depths of legs that stay in the place's room. */
void vs_legs_depths(vs_legs *legs, double extinction_per_m);

/* Of a leg's light exp(-t) comes straight, exp(-t') - exp(-t) was scattered nearly straight on, t'
 * dimmed by similarity; the rest is the air's. Makes of `share`, times `straight`, and of
 * `spread`, times `scattered`, the weights of the patch and of the cell. */
void vs_legs_dim(vs_legs *legs, const vs_gatherer *gatherer, vs_bands straight, vs_bands scattered);

#endif
