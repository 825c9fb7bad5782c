/* A solved bounce is put together light by light: each emitter's own, at a strength of 1, times its
 * strength (light/solved.h). */
#include "veilstop/light/radiosity.h"

#include <stdlib.h>

#include "light/solved.h"

vs_status vs_radiosity_init(vs_radiosity *radiosity, const vs_space *space,
                            const vs_surfaces *surfaces) {
    size_t trap;
    radiosity->rows = NULL;
    vs_status status = vs_surfaces_light_trap(space, surfaces, &trap);
    if (status != VS_OK || trap != VS_SPACE_OUTSIDE) {
        return status != VS_OK ? status : VS_ERR_DOMAIN;
    }
    vs_views *views = malloc(sizeof *views);
    if (!views) {
        return VS_ERR_MEMORY;
    }
    status = vs_views_init(views, space, surfaces);
    if (status != VS_OK) {
        free(views);
        return status;
    }
    radiosity->rows = views;
    return VS_OK;
}

void vs_radiosity_free(vs_radiosity *radiosity) {
    if (radiosity->rows) {
        vs_views_free(radiosity->rows);
    }
    free(radiosity->rows);
    radiosity->rows = NULL;
}

/* ---- solved lights ---- */

/* Behind vs_bounces. */
typedef struct {
    vs_radiosity radiosity;
    vs_solved solved;
} kept;

vs_status vs_bounces_init(vs_bounces *bounces, const vs_radiosity *radiosity,
                          size_t emitter_count) {
    kept *k = malloc(sizeof *k);
    bounces->kept = NULL;
    if (!k) {
        return VS_ERR_MEMORY;
    }
    k->radiosity = *radiosity;
    vs_status status = vs_solved_init(&k->solved, radiosity->rows, emitter_count);
    if (status != VS_OK) {
        free(k);
        return status;
    }
    bounces->kept = k;
    return VS_OK;
}

void vs_bounces_free(vs_bounces *bounces) {
    kept *k = bounces->kept;
    if (k) {
        vs_solved_free(&k->solved);
    }
    free(k);
    bounces->kept = NULL;
}

/* ---- the bounce of some lights ---- */

static vs_status count_shining(const vs_emitter *emitter, vs_bounce *bounce) {
    bounce->shining = calloc(bounce->emitter_count + 1, sizeof *bounce->shining);
    if (!bounce->shining) {
        return VS_ERR_MEMORY;
    }
    for (size_t e = 0; e < bounce->emitter_count; e++) {
        bool dark = vs_bands_luminance(emitter[e].strength) == 0;
        bounce->shining[e] = dark ? SIZE_MAX : bounce->shining_count++;
    }
    return VS_OK;
}

/* Patches that any of the lights falls on unevenly. */
static vs_status find_hot(const vs_mesh *mesh, const vs_solved_air *air, vs_bounce *bounce) {
    bounce->hot = malloc((mesh->patch_count + 1) * sizeof *bounce->hot);
    if (!bounce->hot) {
        return VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < mesh->patch_count; i++) {
        bool hot = false;
        for (size_t e = 0; e < bounce->emitter_count && !hot; e++) {
            hot = bounce->shining[e] != SIZE_MAX && air->light[e].hot[i];
        }
        bounce->hot[i] = hot ? bounce->hot_count++ : SIZE_MAX;
    }
    return VS_OK;
}

static vs_status allocate(const vs_mesh *mesh, vs_bounce *bounce) {
    size_t lanes = bounce->shining_count * VS_BAND_COUNT;
    size_t parts = bounce->hot_count * VS_MESH_SUBS;
    bounce->patch_nits = malloc((mesh->patch_count * lanes + 1) * sizeof *bounce->patch_nits);
    bounce->cell_nits = malloc((mesh->cell_count * lanes + 1) * sizeof *bounce->cell_nits);
    bounce->sub_nits = malloc((parts * lanes + 1) * sizeof *bounce->sub_nits);
    bounce->lit = malloc(mesh->space->room_count * bounce->shining_count + 1);
    bounce->weights =
        calloc(mesh->patch_count + mesh->cell_count + parts + 1, sizeof *bounce->weights);
    return bounce->patch_nits && bounce->cell_nits && bounce->sub_nits && bounce->lit &&
                   bounce->weights
               ? VS_OK
               : VS_ERR_MEMORY;
}

/* Parts of a patch that is lit unevenly: the patch's luminance, its own light put in place. */
static void take_parts(const float *own, const double *patch_nits, vs_bands strength, size_t lanes,
                       double *nits) {
    for (size_t sub = 0; sub < VS_MESH_SUBS; sub++) {
        for (size_t band = 0; band < VS_BAND_COUNT; band++) {
            double all = patch_nits[band] + (double)own[sub * VS_BAND_COUNT + band];
            nits[sub * lanes + band] = all > 0 ? all * strength.v[band] : 0;
        }
    }
}

/* Brings a light to its strength. */
static void take_light(const vs_mesh *mesh, const vs_solved_light *light, const vs_emitter *emitter,
                       size_t place, vs_bounce *bounce) {
    size_t lanes = bounce->shining_count * VS_BAND_COUNT, lane = place * VS_BAND_COUNT;
    const double *patch_nits = light->nits + mesh->cell_count * VS_BAND_COUNT;
    for (size_t band = 0; band < VS_BAND_COUNT; band++) {
        double strength = emitter->strength.v[band];
        for (size_t c = 0; c < mesh->cell_count; c++) {
            bounce->cell_nits[c * lanes + lane + band] =
                light->nits[c * VS_BAND_COUNT + band] * strength;
        }
        for (size_t i = 0; i < mesh->patch_count; i++) {
            bounce->patch_nits[i * lanes + lane + band] =
                patch_nits[i * VS_BAND_COUNT + band] * strength;
        }
    }
    for (size_t i = 0; i < mesh->patch_count; i++) {
        if (bounce->hot[i] != SIZE_MAX) {
            take_parts(light->own + i * VS_MESH_SUBS * VS_BAND_COUNT,
                       patch_nits + i * VS_BAND_COUNT, emitter->strength, lanes,
                       bounce->sub_nits + bounce->hot[i] * VS_MESH_SUBS * lanes + lane);
        }
    }
    for (size_t r = 0; r < mesh->space->room_count; r++) {
        bounce->lit[r * bounce->shining_count + place] = light->lit[r];
    }
}

vs_status vs_bounce_solve(vs_bounces *bounces, const vs_medium *medium, const vs_emitter *emitter,
                          vs_bounce *bounce) {
    kept *k = bounces->kept;
    const vs_mesh *mesh = &k->solved.views->mesh;
    const vs_bounce blank = {.radiosity = &k->radiosity, .emitter_count = k->solved.emitter_count};
    const vs_solved_air *air;
    *bounce = blank;
    vs_status status = vs_solved_in(&k->solved, medium, emitter, &air);
    if (status == VS_OK) {
        status = count_shining(emitter, bounce);
    }
    if (status == VS_OK) {
        status = find_hot(mesh, air, bounce);
    }
    if (status == VS_OK) {
        status = allocate(mesh, bounce);
    }
    for (size_t e = 0; e < bounce->emitter_count && status == VS_OK; e++) {
        if (bounce->shining[e] != SIZE_MAX) {
            take_light(mesh, &air->light[e], &emitter[e], bounce->shining[e], bounce);
        }
    }
    if (status != VS_OK) {
        vs_bounce_free(bounce);
    }
    return status;
}

bool vs_bounce_reaches(const vs_bounce *bounce, const vs_sight *sight, size_t emitter) {
    size_t place = bounce->shining[emitter];
    if (place == SIZE_MAX) {
        return false;
    }
    for (size_t i = 0; i < sight->piece_count; i++) {
        size_t room = sight->piece[i].room;
        if (room != VS_SPACE_OUTSIDE && bounce->lit[room * bounce->shining_count + place]) {
            return true;
        }
    }
    return false;
}

void vs_bounce_free(vs_bounce *bounce) {
    const vs_bounce blank = {0};
    free(bounce->patch_nits);
    free(bounce->cell_nits);
    free(bounce->shining);
    free(bounce->hot);
    free(bounce->lit);
    free(bounce->sub_nits);
    free(bounce->weights);
    *bounce = blank;
}
