/* Patches and air, light by light. Per patch i, of light q (a band of an emitter):
 *   E_i = direct_i + sum over views of share (T B_j + (1 - T) pi S),  B_i = reflectance E_i,
 * T = exp(-extinction' length), S the source function of the air half-way: albedo' times the mean
 * radiance there. extinction' = extinction (1 - albedo g), albedo' = albedo (1 - g)/(1 - albedo g).
 */
#include "light/solved.h"

#include <stdlib.h>
#include <string.h>

#include "light/gather.h"

#define HOT_SHARE    0.02 /* [1] of a light's lumens on one patch, and the brightest part over the */
#define HOT_CONTRAST 2.0  /* [1] mean: from there on parts are told apart */

/* ---- keeping ---- */

static size_t sub_count(const vs_views *views) {
    return views->mesh.patch_count * VS_MESH_SUBS;
}

vs_status vs_solved_init(vs_solved *s, const vs_views *views, size_t emitter_count) {
    const vs_solved fresh = {.views = views, .emitter_count = emitter_count};
    size_t places = views->place_count;
    *s = fresh;
    vs_status status = vs_exchange_init(&s->exchange, views);
    s->cast = calloc(emitter_count + 1, sizeof *s->cast);
    s->lumens = calloc(sub_count(views) + views->mesh.cell_count + 1, sizeof *s->lumens);
    s->straight = calloc(sub_count(views) + 1, sizeof *s->straight);
    s->source = calloc(places * LANES + 1, sizeof *s->source);
    s->nits = calloc(places * LANES + 1, sizeof *s->nits);
    s->missing = calloc(emitter_count + 1, sizeof *s->missing);
    bool made = s->cast && s->lumens && s->straight && s->source && s->nits && s->missing;
    for (size_t i = 0; i < VS_SOLVED_AIRS; i++) {
        vs_solved_air *air = &s->air[i];
        air->light = calloc(emitter_count + 1, sizeof *air->light);
        air->room_extinction_per_m = calloc(views->mesh.space->room_count + 1, sizeof(double));
        made = made && air->light && air->room_extinction_per_m;
    }
    status = status == VS_OK && !made ? VS_ERR_MEMORY : status;
    if (status != VS_OK) {
        vs_solved_free(s);
    }
    return status;
}

static void free_light(vs_solved_light *light) {
    free(light->nits);
    free(light->own);
    free(light->hot);
    free(light->lit);
}

void vs_solved_free(vs_solved *s) {
    const vs_solved blank = {0};
    for (size_t i = 0; i < VS_SOLVED_AIRS; i++) {
        for (size_t e = 0; s->air[i].light && e < s->emitter_count; e++) {
            free_light(&s->air[i].light[e]);
        }
        free(s->air[i].light);
        free(s->air[i].room_extinction_per_m);
    }
    for (size_t e = 0; s->cast && e < s->emitter_count; e++) {
        vs_ways_free(&s->cast[e].ways);
    }
    free(s->cast);
    free(s->lumens);
    free(s->straight);
    free(s->source);
    free(s->nits);
    free(s->missing);
    vs_exchange_free(&s->exchange);
    *s = blank;
}

static vs_status make_light(const vs_views *views, vs_solved_light *light) {
    if (!light->nits) {
        light->nits = calloc(views->place_count * VS_BAND_COUNT + 1, sizeof *light->nits);
        light->own = calloc(sub_count(views) * VS_BAND_COUNT + 1, sizeof *light->own);
        light->hot = calloc(views->mesh.patch_count + 1, sizeof *light->hot);
        light->lit = calloc(views->mesh.space->room_count + 1, sizeof *light->lit);
    }
    if (!light->nits || !light->own || !light->hot || !light->lit) {
        const vs_solved_light blank = {0};
        free_light(light);
        *light = blank;
        return VS_ERR_MEMORY;
    }
    return VS_OK;
}

static bool same_bands(vs_bands a, vs_bands b) {
    return a.v[0] == b.v[0] && a.v[1] == b.v[1] && a.v[2] == b.v[2];
}

static bool is_air(const vs_solved_air *air, const vs_medium *medium, vs_bands rate,
                   vs_bands albedo) {
    bool same = air->used > 0 && same_bands(air->rate, rate) && same_bands(air->albedo, albedo) &&
                same_bands(air->ratio, medium->ratio);
    for (size_t r = 0; r < medium->space->room_count && same; r++) {
        same = air->room_extinction_per_m[r] == medium->room_extinction_per_m[r];
    }
    return same;
}

/* The air as it was kept, or in place of the one that was not asked for the longest. */
static vs_solved_air *find_air(vs_solved *s, const vs_medium *medium) {
    vs_bands rate = vs_bands_mul(vs_gather_dimming(medium), medium->ratio);
    vs_bands albedo = vs_gather_albedo(medium);
    vs_solved_air *oldest = &s->air[0];
    for (size_t i = 0; i < VS_SOLVED_AIRS; i++) {
        if (is_air(&s->air[i], medium, rate, albedo)) {
            return &s->air[i];
        }
        oldest = s->air[i].used < oldest->used ? &s->air[i] : oldest;
    }
    oldest->rate = rate;
    oldest->albedo = albedo;
    oldest->ratio = medium->ratio;
    for (size_t r = 0; r < medium->space->room_count; r++) {
        oldest->room_extinction_per_m[r] = medium->room_extinction_per_m[r];
    }
    for (size_t e = 0; e < s->emitter_count; e++) {
        oldest->light[e].cast = 0;
    }
    return oldest;
}

/* ---- direct light ---- */

static vs_status cast_emitter(vs_solved *s, const vs_emitter *emitter, vs_solved_cast *cast) {
    if (cast->number > 0 && vs_ways_alike(&cast->emitter, emitter)) {
        return VS_OK;
    }
    vs_ways_free(&cast->ways);
    cast->number = 0;
    vs_status status = vs_ways_init(&cast->ways, &s->views->mesh, emitter);
    if (status == VS_OK) {
        cast->emitter = *emitter;
        cast->number = ++s->clock;
    }
    return status;
}

/* Whether a light falls on a patch so unevenly, and with so much of its lumens, that its parts are
 * worth telling apart. */
static bool lit_unevenly(const vs_bands *sub_lm, double whole_lm) {
    double sum = 0, most = 0;
    for (size_t i = 0; i < VS_MESH_SUBS; i++) {
        sum += sub_lm[i].v[VS_BAND_GREEN];
        most = lane_max(most, sub_lm[i].v[VS_BAND_GREEN]);
    }
    return sum > HOT_SHARE * whole_lm && most * VS_MESH_SUBS > HOT_CONTRAST * sum;
}

/* From lumens to what the parts of a patch give back of them: the mean as the patch's source
 * [lx/pi], the rest part by part. */
static void take_patch(const vs_patch *patch, const vs_bands *sub_lm, double *source, float *own) {
    double per =
        patch->presence > 0 ? VS_MESH_SUBS / (VS_PI * patch->area_m2 * patch->presence) : 0;
    for (size_t band = 0; band < VS_BAND_COUNT; band++) {
        source[band] = 0;
        for (size_t i = 0; i < VS_MESH_SUBS; i++) {
            source[band] += sub_lm[i].v[band] * per / VS_MESH_SUBS;
        }
        for (size_t i = 0; i < VS_MESH_SUBS; i++) {
            own[i * VS_BAND_COUNT + band] =
                (float)(patch->reflectance * (sub_lm[i].v[band] * per - source[band]));
        }
    }
}

static void take_patches(const vs_mesh *mesh, const vs_bands *sub_lm, vs_solved_light *light) {
    double whole_lm = 0;
    for (size_t i = 0; i < mesh->patch_count * VS_MESH_SUBS; i++) {
        whole_lm += sub_lm[i].v[VS_BAND_GREEN];
    }
    for (size_t i = 0; i < mesh->patch_count; i++) {
        const vs_bands *parts_lm = sub_lm + i * VS_MESH_SUBS;
        take_patch(&mesh->patch[i], parts_lm, light->nits + (mesh->cell_count + i) * VS_BAND_COUNT,
                   light->own + i * VS_MESH_SUBS * VS_BAND_COUNT);
        light->hot[i] = mesh->patch[i].reflectance > 0 && lit_unevenly(parts_lm, whole_lm);
    }
}

static void take_air(const vs_mesh *mesh, const vs_bands *cell_lm_m, vs_solved_light *light) {
    for (size_t r = 0; r < mesh->space->room_count; r++) {
        const vs_cell_grid *g = &mesh->cells[r];
        /* spherical illuminance = lumens x way / volume; over 4 pi: mean radiance */
        double per = 1 / (4 * VS_PI * vs_mesh_cell_volume_m3(g));
        light->lit[r] = false;
        for (size_t c = g->first; c < g->first + vs_mesh_cell_count(g); c++) {
            for (size_t band = 0; band < VS_BAND_COUNT; band++) {
                light->nits[c * VS_BAND_COUNT + band] = cell_lm_m[c].v[band] * per;
                light->lit[r] = light->lit[r] || cell_lm_m[c].v[band] > 0;
            }
        }
    }
}

static bool is_clear(const vs_medium *medium) {
    bool clear = true;
    for (size_t r = 0; r < medium->space->room_count; r++) {
        clear = clear && medium->room_extinction_per_m[r] == 0;
    }
    return clear;
}

/* What haze scattered on the way does not land where the beam would have taken it: it is laid
 * evenly on the patch, so that only light that came straight makes parts brighter than others. */
static void spread_scattered(const vs_mesh *mesh, const vs_bands *straight_lm, vs_bands *sub_lm) {
    for (size_t i = 0; i < mesh->patch_count; i++) {
        const vs_bands *straight = straight_lm + i * VS_MESH_SUBS;
        vs_bands *parts = sub_lm + i * VS_MESH_SUBS, scattered = vs_bands_grey(0);
        for (size_t n = 0; n < VS_MESH_SUBS; n++) {
            scattered = vs_bands_add(scattered, parts[n]);
            scattered = vs_bands_add(scattered, vs_bands_scale(straight[n], -1));
        }
        for (size_t n = 0; n < VS_MESH_SUBS; n++) {
            parts[n] = vs_bands_add(straight[n], vs_bands_scale(scattered, 1.0 / VS_MESH_SUBS));
        }
    }
}

/* Direct light of one emitter, its means in place of what is to be solved. */
static vs_status light_directly(vs_solved *s, const vs_medium *medium, const vs_ways *ways,
                                vs_solved_light *light) {
    const vs_mesh *mesh = &s->views->mesh;
    size_t subs = sub_count(s->views), cells = mesh->cell_count;
    vs_status status = make_light(s->views, light);
    memset(s->lumens, 0, (subs + cells) * sizeof *s->lumens);
    if (status == VS_OK) {
        status = vs_ways_shine(ways, medium, vs_gather_dimming(medium), s->lumens, s->lumens + subs,
                               cells);
    }
    if (status == VS_OK && !is_clear(medium)) {
        memset(s->straight, 0, subs * sizeof *s->straight);
        status = vs_ways_shine(ways, medium, vs_bands_grey(1), s->straight, NULL, 0);
        spread_scattered(mesh, s->straight, s->lumens);
    }
    if (status == VS_OK) {
        take_patches(mesh, s->lumens, light);
        take_air(mesh, s->lumens + subs, light);
    }
    return status;
}

/* ---- all light ---- */

/* Eight of the missing lights, or what is left of them, in one band. What haze scatters of the
 * lights themselves is told apart (light/refill.h): here remains what it scatters of surfaces'
 * light, and of its own. */
static vs_status solve_eight(vs_solved *s, vs_solved_air *air, const size_t *emitter, size_t count,
                             size_t band) {
    size_t places = s->views->place_count, cells = s->views->mesh.cell_count;
    for (size_t i = 0; i < places * LANES; i++) {
        const vs_solved_light *light = i % LANES < count ? &air->light[emitter[i % LANES]] : NULL;
        const double *nits = light ? light->nits + i / LANES * VS_BAND_COUNT : NULL;
        s->source[i] = light ? nits[band] : 0;
        s->nits[i] = light && band > 0 ? nits[0] : 0; /* bands fare much alike: a first guess */
    }
    vs_status status = vs_exchange_solve(&s->exchange, s->source, s->nits);
    for (size_t l = 0; l < count; l++) {
        double *nits = air->light[emitter[l]].nits + band;
        for (size_t i = 0; i < places; i++) {
            double refill = i < cells ? air->albedo.v[band] * s->source[i * LANES + l] : 0;
            nits[i * VS_BAND_COUNT] = lane_max(0, s->nits[i * LANES + l] - refill);
        }
    }
    return status;
}

/* Whether light of all bands fares alike: haze is grey, or there is none. */
static bool bands_alike(const vs_medium *medium, const vs_solved_air *air) {
    bool grey = true;
    for (int band = 1; band < VS_BAND_COUNT; band++) {
        grey =
            grey && air->rate.v[band] == air->rate.v[0] && air->albedo.v[band] == air->albedo.v[0];
    }
    return grey || is_clear(medium);
}

static void copy_band(const vs_views *views, vs_solved_light *light) {
    for (size_t i = 0; i < views->place_count; i++) {
        double *nits = light->nits + i * VS_BAND_COUNT;
        nits[1] = nits[2] = nits[0];
    }
}

static vs_status solve_missing(vs_solved *s, const vs_medium *medium, vs_solved_air *air,
                               size_t count) {
    bool alike = bands_alike(medium, air);
    vs_status status = VS_OK;
    vs_exchange_set_air(&s->exchange, medium);
    for (size_t band = 0; band < (alike ? 1 : VS_BAND_COUNT); band++) {
        vs_exchange_set_band(&s->exchange, medium, air->rate.v[band], air->albedo.v[band]);
        for (size_t i = 0; i < count && status == VS_OK; i += LANES) {
            size_t left = count - i;
            status = solve_eight(s, air, s->missing + i, left < LANES ? left : LANES, band);
        }
    }
    for (size_t i = 0; i < count && status == VS_OK; i++) {
        vs_solved_light *light = &air->light[s->missing[i]];
        if (alike) {
            copy_band(s->views, light);
        }
        light->cast = s->cast[s->missing[i]].number;
    }
    return status;
}

vs_status vs_solved_in(vs_solved *s, const vs_medium *medium, const vs_emitter *emitter,
                       const vs_solved_air **out) {
    vs_solved_air *air = find_air(s, medium);
    size_t missing = 0;
    vs_status status = VS_OK;
    air->used = ++s->clock;
    for (size_t e = 0; e < s->emitter_count && status == VS_OK; e++) {
        if (vs_bands_luminance(emitter[e].strength) == 0) {
            continue;
        }
        status = cast_emitter(s, &emitter[e], &s->cast[e]);
        if (status == VS_OK && air->light[e].cast != s->cast[e].number) {
            air->light[e].cast = 0;
            s->missing[missing++] = e;
            status = light_directly(s, medium, &s->cast[e].ways, &air->light[e]);
        }
    }
    *out = air;
    return status == VS_OK && missing > 0 ? solve_missing(s, medium, air, missing) : status;
}
