/* See kernel_legs.h. Sources: Henyey & Greenstein 1941, Astrophys. J. 93, 70; similarity: van de
 * Hulst 1980, Multiple Light Scattering, ch. 14. Held against the plain formulas by
 * tests/unit/test_legs.c. */
#include "light/kernel_legs.h"

#include "light/kernel_phase.h"

void vs_legs_close(vs_legs *legs) {
    for (size_t i = legs->count; i % LANES != 0; i++) {
        legs->x_m[i] = legs->y_m[i] = legs->z_m[i] = 1;
        legs->view[i] = legs->facing_m3[i] = legs->open[i] = 0;
    }
}

/* Eight legs past one screen; `before_m`: how far before its plane the place is, from_m: from the
 * screen's middle to the place. */
LANES_INLINE void past_screen(vs_legs *legs, size_t first, const vs_screen *screen, vs_vec3 from_m,
                              double before_m) {
    const double *x_m = &legs->x_m[first], *y_m = &legs->y_m[first], *z_m = &legs->z_m[first];
    double *open = &legs->open[first];
    const vs_vec3 n = screen->rect.normal, u = screen->rect.u, v = screen->rect.v;
    double from_u = vs_vec3_dot(from_m, u), from_v = vs_vec3_dot(from_m, v);
    double half_u = screen->rect.half_u_m, half_v = screen->rect.half_v_m;
    double passed = screen->transmittance;
    EACH_LANE(l) {
        double step = x_m[l] * n.x + y_m[l] * n.y + z_m[l] * n.z, after_m = before_m + step;
        double t = -before_m / lane_divisor(step);
        double at_u = from_u + t * (x_m[l] * u.x + y_m[l] * u.y + z_m[l] * u.z);
        double at_v = from_v + t * (x_m[l] * v.x + y_m[l] * v.y + z_m[l] * v.z);
        at_u = at_u < 0 ? -at_u : at_u;
        at_v = at_v < 0 ? -at_v : at_v;
        /* ends on either side of it, the far one off its skin, and within its sides */
        double other = before_m < 0 ? after_m : -after_m;
        double in = other > VS_SPACE_SKIN_M ? 1 : 0;
        in = at_u <= half_u ? in : 0;
        in = at_v <= half_v ? in : 0;
        open[l] *= in > 0 ? passed : 1;
    }
}

LANES_CLONES void vs_legs_past_screens(vs_legs *legs, const vs_space *space, vs_vec3 at_m) {
    for (size_t i = 0; i < space->screen_count; i++) {
        const vs_screen *screen = &space->screen[i];
        vs_vec3 from_m = vs_vec3_sub(at_m, screen->rect.center_m);
        double before_m = vs_vec3_dot(from_m, screen->rect.normal);
        if (before_m <= VS_SPACE_SKIN_M && before_m >= -VS_SPACE_SKIN_M) {
            continue;
        }
        for (size_t first = 0; first < legs->count; first += LANES) {
            past_screen(legs, first, screen, from_m, before_m);
        }
    }
}

/* One side of the air's cells as lanes read it: cell = at + step x way. */
typedef struct {
    double at[3], step[3], last[3], stride[3];
    double first;
} cell_reading;

static cell_reading cells_half_way(const vs_cell_grid *cells, vs_vec3 at_m) {
    cell_reading r = {.first = (double)cells->first};
    double stride = 1;
    for (int axis = 0; axis < 3; axis++) {
        double low_m = vs_vec3_component(cells->box.low_m, axis), n = (double)cells->count[axis];
        double a_m = n / (vs_vec3_component(cells->box.high_m, axis) - low_m);
        r.at[axis] = (vs_vec3_component(at_m, axis) - low_m) * a_m;
        r.step[axis] = a_m / 2;
        r.last[axis] = n - 1;
        r.stride[axis] = stride;
        stride *= n;
    }
    return r;
}

/* The cell along one axis, before its stride. */
LANES_INLINE int cell_along(const cell_reading *r, int axis, double way_m) {
    return (int)lane_min(lane_max(r->at[axis] + r->step[axis] * way_m, 0), r->last[axis]);
}

LANES_INLINE void set_ways(vs_legs *legs, size_t first, const cell_reading *r) {
    const double *x_m = &legs->x_m[first], *y_m = &legs->y_m[first], *z_m = &legs->z_m[first];
    double *way_m = &legs->way_m[first];
    int *cell = &legs->cell[first];
    EACH_LANE(l) {
        way_m[l] = sqrt(x_m[l] * x_m[l] + y_m[l] * y_m[l] + z_m[l] * z_m[l]);
    }
    EACH_LANE(l) {
        cell[l] = (int)r->first + cell_along(r, 0, x_m[l]) +
                  (int)r->stride[1] * cell_along(r, 1, y_m[l]) +
                  (int)r->stride[2] * cell_along(r, 2, z_m[l]);
    }
}

LANES_INLINE void worth_block(vs_legs *legs, size_t first, const vs_gatherer *g,
                              const vs_phase *twice, double (*sum)[LANES]) {
    const double *x_m = &legs->x_m[first], *y_m = &legs->y_m[first], *z_m = &legs->z_m[first];
    const double *way_m = &legs->way_m[first], *facing_m3 = &legs->facing_m3[first];
    double *view = &legs->view[first];
    const double *open = &legs->open[first];
    const vs_vec3 axis = g->axis;
    double cosine[LANES], even = g->how == VS_GATHER_EVEN ? 1 / (4 * VS_PI) : 1;
    EACH_LANE(l) {
        double whole = view[l] + facing_m3[l] / (way_m[l] * way_m[l] * way_m[l]);
        view[l] = whole * open[l] * even;
        /* light travels against the way, then along the axis */
        cosine[l] = -(x_m[l] * axis.x + y_m[l] * axis.y + z_m[l] * axis.z) / way_m[l];
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double *share = &legs->share[band][first], *spread = &legs->spread[band][first];
        double phase[LANES], phase_twice[LANES];
        EACH_LANE(l) {
            phase[l] = phase_twice[l] = 1;
        }
        if (g->how == VS_GATHER_SCATTERED) {
            lanes_phase(&g->medium->haze->phase[band], cosine, phase);
            lanes_phase(&twice[band], cosine, phase_twice);
        }
        double *whole = sum[band], *whole_spread = sum[VS_BAND_COUNT + band];
        EACH_LANE(l) {
            share[l] = view[l] * phase[l];
            spread[l] = view[l] * phase_twice[l];
            whole[l] += share[l];
            whole_spread[l] += spread[l];
        }
    }
}

LANES_CLONES void vs_legs_worth(vs_legs *legs, const vs_gatherer *g) {
    double sum[2 * VS_BAND_COUNT][LANES] = {{0}};
    vs_phase twice[VS_BAND_COUNT];
    cell_reading cells = cells_half_way(&g->mesh->cells[g->room], g->at_m);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double mean = g->how == VS_GATHER_SCATTERED ? g->medium->haze->phase[band].g : 0;
        twice[band] = vs_phase_henyey_greenstein(mean * fabs(mean));
    }
    for (size_t first = 0; first < legs->count; first += LANES) {
        set_ways(legs, first, &cells);
        worth_block(legs, first, g, twice, sum);
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        legs->whole.v[band] = lanes_sum(sum[band]);
        legs->whole_spread.v[band] = lanes_sum(sum[VS_BAND_COUNT + band]);
    }
}

LANES_CLONES void vs_legs_depths(vs_legs *legs, double extinction_per_m) {
    for (size_t first = 0; first < legs->count; first += LANES) {
        const double *way_m = &legs->way_m[first];
        double *depth = &legs->depth[first];
        EACH_LANE(l) {
            depth[l] = extinction_per_m * way_m[l];
        }
    }
}

LANES_CLONES void vs_legs_dim(vs_legs *legs, const vs_gatherer *g, vs_bands straight,
                              vs_bands scattered) {
    for (size_t first = 0; first < legs->count; first += LANES) {
        const double *depth = &legs->depth[first];
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            double *share = &legs->share[band][first], *spread = &legs->spread[band][first];
            double fade = g->medium->ratio.v[band], fade_all = fade * g->dimming.v[band];
            double a = straight.v[band], b = scattered.v[band];
            EACH_LANE(l) {
                double direct = lane_exp(-depth[l] * fade), all = lane_exp(-depth[l] * fade_all);
                double near = spread[l] * b;
                share[l] = share[l] * a * direct + near * (all - direct);
                spread[l] = near * (1 - all);
            }
        }
    }
}
