/* Patches and air, solved by sweeps until they rest. Per patch i, of light q (a band of an
 * emitter):
 *   E_i = direct_i + sum over views of share (T B_j + (1 - T) pi S),  B_i = reflectance E_i,
 * T = exp(-extinction' length), S the source function of the air half-way: albedo' times the mean
 * radiance there. extinction' = extinction (1 - albedo g), albedo' = albedo (1 - g)/(1 - albedo g).
 */
#include "veilstop/light/radiosity.h"

#include <math.h>
#include <stdlib.h>

#include "light/cast.h"
#include "light/gather.h"
#include "light/views.h"
#include "veilstop/base/units.h"

#define SWEEP_MAX    2000 /* a white room without exit, reflectance 0.999, takes some hundreds */
#define HOT_SHARE    0.02 /* [1] of a light's lumens on one patch, and the brightest part over the */
#define HOT_CONTRAST 2.0  /* [1] mean: from there on parts are told apart */
#define SWEEP_REST   2e-4 /* [1] of the largest luminance: a change that no longer counts */

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

/* ---- the system of one haze ---- */

typedef struct {
    const vs_views *views;
    const vs_medium *medium;
    size_t lanes;        /* shining emitters x bands */
    double *direct;      /* patch x lane: direct light [lx] */
    double *sub_direct;  /* patch x part x lane: the same, part by part */
    double *air_direct;  /* cell x lane: mean radiance from the lights [cd/m2] */
    double *air;         /* cell x lane: source function, all of it */
    double *transmitted; /* view x band */
    vs_bands *to_air;    /* cell x (patches, cells): weights in a cell's mean radiance */
    vs_bands albedo;
} haze_system;

static void system_free(haze_system *s) {
    free(s->direct);
    free(s->sub_direct);
    free(s->air_direct);
    free(s->air);
    free(s->transmitted);
    free(s->to_air);
}

static vs_status system_allocate(haze_system *s) {
    size_t patches = s->views->mesh.patch_count, cells = s->views->mesh.cell_count;
    s->direct = calloc(patches * s->lanes + 1, sizeof(double));
    s->sub_direct = calloc(patches * VS_MESH_SUBS * s->lanes + 1, sizeof(double));
    s->air_direct = calloc(cells * s->lanes + 1, sizeof(double));
    s->air = calloc(cells * s->lanes + 1, sizeof(double));
    s->transmitted = calloc(s->views->count * VS_BAND_COUNT + 1, sizeof(double));
    s->to_air = calloc(cells * (patches + cells) + 1, sizeof *s->to_air);
    return s->direct && s->sub_direct && s->air_direct && s->air && s->transmitted && s->to_air
               ? VS_OK
               : VS_ERR_MEMORY;
}

/* One emitter's light, from lumens to illuminances and mean radiances. */
static void take_light(haze_system *s, size_t emitter, const vs_cast *cast) {
    const vs_mesh *mesh = &s->views->mesh;
    size_t lane = emitter * VS_BAND_COUNT;
    for (size_t i = 0; i < mesh->patch_count; i++) {
        const vs_patch *p = &mesh->patch[i];
        double per = p->presence > 0 ? VS_MESH_SUBS / (p->area_m2 * p->presence) : 0;
        double *mean = s->direct + i * s->lanes + lane;
        for (size_t sub = i * VS_MESH_SUBS; sub < (i + 1) * VS_MESH_SUBS; sub++) {
            double *part = s->sub_direct + sub * s->lanes + lane;
            for (int band = 0; band < VS_BAND_COUNT; band++) {
                part[band] = cast->sub_lm[sub].v[band] * per;
                mean[band] += part[band] / VS_MESH_SUBS;
            }
        }
    }
    for (size_t r = 0; r < mesh->space->room_count; r++) {
        const vs_cell_grid *g = &mesh->cells[r];
        size_t end = g->first + g->count[0] * g->count[1] * g->count[2];
        /* spherical illuminance = lumens x way / volume; over 4 pi: mean radiance */
        double per = 1 / (4 * VS_PI * vs_mesh_cell_volume_m3(g));
        for (size_t c = g->first; c < end; c++) {
            for (int band = 0; band < VS_BAND_COUNT; band++) {
                s->air_direct[c * s->lanes + lane + (size_t)band] =
                    cast->cell_lm_m[c].v[band] * per;
            }
        }
    }
}

/* Each emitter's light, cast outward. */
static vs_status system_light(haze_system *s, const vs_emitter *emitter, const vs_bounce *bounce) {
    const vs_mesh *mesh = &s->views->mesh;
    size_t subs = mesh->patch_count * VS_MESH_SUBS;
    vs_bands *lumens = malloc((subs + mesh->cell_count + 1) * sizeof *lumens);
    if (!lumens) {
        return VS_ERR_MEMORY;
    }
    vs_cast cast = {mesh, s->medium, vs_gather_dimming(s->medium), lumens, lumens + subs};
    for (size_t e = 0; e < bounce->emitter_count; e++) {
        if (bounce->shining[e] == SIZE_MAX) {
            continue;
        }
        for (size_t i = 0; i < subs + mesh->cell_count; i++) {
            lumens[i] = vs_bands_grey(0);
        }
        vs_cast_light(&cast, &emitter[e]);
        take_light(s, bounce->shining[e], &cast);
    }
    free(lumens);
    return VS_OK;
}

static double view_depth(const haze_system *s, size_t i, const vs_view *view) {
    const vs_medium *medium = s->medium;
    if (view->room != VS_SPACE_OUTSIDE) {
        return medium->room_extinction_per_m[view->room] * view->length_m;
    }
    const vs_patch *patch = s->views->mesh.patch;
    return vs_space_optical_depth(medium->space, medium->room_extinction_per_m,
                                  patch[i].rect.center_m, patch[view->patch].rect.center_m);
}

static void system_views(haze_system *s) {
    vs_bands dimming = vs_gather_dimming(s->medium);
    for (size_t i = 0; i < s->views->mesh.patch_count; i++) {
        for (size_t n = s->views->first[i]; n < s->views->first[i + 1]; n++) {
            double depth = view_depth(s, i, &s->views->view[n]);
            for (int band = 0; band < VS_BAND_COUNT; band++) {
                s->transmitted[n * VS_BAND_COUNT + (size_t)band] =
                    depth > 0 ? exp(-depth * dimming.v[band] * s->medium->ratio.v[band]) : 1;
            }
        }
    }
}

static void system_air(haze_system *s) {
    const vs_mesh *mesh = &s->views->mesh;
    vs_gatherer gatherer = {.mesh = mesh,
                            .medium = s->medium,
                            .dimming = vs_gather_dimming(s->medium),
                            .how = VS_GATHER_EVEN};
    for (size_t r = 0; r < mesh->space->room_count; r++) {
        const vs_cell_grid *g = &mesh->cells[r];
        size_t n = g->count[0] * g->count[1] * g->count[2];
        gatherer.room = r;
        for (size_t c = g->first; c < g->first + n && s->medium->room_extinction_per_m[r] > 0;
             c++) {
            vs_bands *row = s->to_air + c * (mesh->patch_count + mesh->cell_count);
            vs_weights sum = {.patch = row, .cell = row + mesh->patch_count};
            gatherer.at_m = vs_mesh_cell_center(g, c);
            vs_gather_add(&gatherer, vs_bands_grey(1), &sum);
        }
    }
}

/* Source function of every cell from the patches' luminances and the lights. */
static void add_weighed(const haze_system *s, const vs_bands *weight, const double *nits,
                        size_t count, double *sum) {
    for (size_t i = 0; i < count; i++) {
        const double *w = weight[i].v, *b = nits + i * s->lanes;
        if (w[VS_BAND_GREEN] == 0) {
            continue;
        }
        for (size_t lane = 0; lane < s->lanes; lane += VS_BAND_COUNT) {
            for (size_t band = 0; band < VS_BAND_COUNT; band++) {
                sum[lane + band] += w[band] * b[lane + band];
            }
        }
    }
}

static void sweep_air(haze_system *s, const double *nits, double *sum) {
    const vs_mesh *mesh = &s->views->mesh;
    for (size_t c = 0; c < mesh->cell_count; c++) {
        const vs_bands *row = s->to_air + c * (mesh->patch_count + mesh->cell_count);
        for (size_t lane = 0; lane < s->lanes; lane++) {
            sum[lane] = s->air_direct[c * s->lanes + lane];
        }
        add_weighed(s, row, nits, mesh->patch_count, sum);
        add_weighed(s, row + mesh->patch_count, s->air, mesh->cell_count, sum);
        for (size_t lane = 0; lane < s->lanes; lane++) {
            s->air[c * s->lanes + lane] = s->albedo.v[lane % VS_BAND_COUNT] * sum[lane];
        }
    }
}

/* One sweep over the patches, each taking the newest of the others. Returns the largest change as a
 * share of the largest luminance, lane by lane the worst. */
static double sweep_patches(haze_system *s, double *nits, double *row, double *largest) {
    const vs_mesh *mesh = &s->views->mesh;
    double worst = 0;
    for (size_t lane = 0; lane < s->lanes; lane++) {
        largest[lane] = 0;
    }
    for (size_t i = 0; i < mesh->patch_count; i++) {
        double reflectance = mesh->patch[i].reflectance;
        if (mesh->patch[i].portal != VS_MESH_NONE || reflectance == 0) {
            continue;
        }
        for (size_t lane = 0; lane < s->lanes; lane++) {
            row[lane] = s->direct[i * s->lanes + lane] / VS_PI;
        }
        for (size_t n = s->views->first[i]; n < s->views->first[i + 1]; n++) {
            const vs_view *view = &s->views->view[n];
            const double *t = s->transmitted + n * VS_BAND_COUNT;
            const double *b = nits + view->patch * s->lanes;
            const double *air = s->air + view->cell * s->lanes;
            for (size_t lane = 0; lane < s->lanes; lane += VS_BAND_COUNT) {
                for (size_t band = 0; band < VS_BAND_COUNT; band++) {
                    row[lane + band] +=
                        view->share * (t[band] * b[lane + band] + (1 - t[band]) * air[lane + band]);
                }
            }
        }
        for (size_t lane = 0; lane < s->lanes; lane++) {
            double *old = &nits[i * s->lanes + lane], now = reflectance * row[lane];
            largest[lane] = fmax(largest[lane], now);
            if (now > 0) {
                worst = fmax(worst, fabs(now - *old) / fmax(largest[lane], now));
            }
            *old = now;
        }
    }
    return worst;
}

/* What haze scatters of the lights themselves is told apart (light/refill.h): here remains what it
 * scatters of surfaces' light, and of its own. */
static void leave_refill(haze_system *s) {
    for (size_t i = 0; i < s->views->mesh.cell_count * s->lanes; i++) {
        s->air[i] = fmax(0, s->air[i] - s->albedo.v[i % VS_BAND_COUNT] * s->air_direct[i]);
    }
}

static vs_status system_solve(haze_system *s, double *nits) {
    double *row = calloc(2 * s->lanes + 1, sizeof *row);
    if (!row) {
        return VS_ERR_MEMORY;
    }
    double change = 1;
    for (int sweep = 0; sweep < SWEEP_MAX && change > SWEEP_REST; sweep++) {
        sweep_air(s, nits, row);
        change = sweep_patches(s, nits, row, row + s->lanes);
    }
    sweep_air(s, nits, row);
    leave_refill(s);
    free(row);
    return change <= SWEEP_REST ? VS_OK : VS_ERR_CONVERGENCE;
}

/* Whether one light falls on a patch so unevenly, and with so much of its lumens, that its parts
 * are worth telling apart. */
static bool lit_unevenly(const haze_system *s, size_t patch, const double *lumens) {
    const vs_patch *p = &s->views->mesh.patch[patch];
    for (size_t lane = VS_BAND_GREEN; lane < s->lanes; lane += VS_BAND_COUNT) {
        double mean = s->direct[patch * s->lanes + lane], most = 0;
        if (mean * p->area_m2 * p->presence <= HOT_SHARE * lumens[lane]) {
            continue;
        }
        for (size_t sub = patch * VS_MESH_SUBS; sub < (patch + 1) * VS_MESH_SUBS; sub++) {
            most = fmax(most, s->sub_direct[sub * s->lanes + lane]);
        }
        if (most > HOT_CONTRAST * mean) {
            return true;
        }
    }
    return false;
}

static void sum_lumens(const haze_system *s, double *lumens) {
    for (size_t i = 0; i < s->views->mesh.patch_count; i++) {
        const vs_patch *p = &s->views->mesh.patch[i];
        for (size_t lane = 0; lane < s->lanes; lane++) {
            lumens[lane] += s->direct[i * s->lanes + lane] * p->area_m2 * p->presence;
        }
    }
}

/* In which rooms each light is in the air. */
static vs_status tell_rooms(const haze_system *s, vs_bounce *bounce) {
    const vs_mesh *mesh = &s->views->mesh;
    bounce->lit = calloc(mesh->space->room_count * bounce->shining_count + 1, sizeof(bool));
    if (!bounce->lit) {
        return VS_ERR_MEMORY;
    }
    for (size_t r = 0; r < mesh->space->room_count; r++) {
        const vs_cell_grid *g = &mesh->cells[r];
        size_t end = g->first + g->count[0] * g->count[1] * g->count[2];
        for (size_t c = g->first; c < end; c++) {
            for (size_t e = 0; e < bounce->shining_count; e++) {
                const double *air = s->air_direct + c * s->lanes + e * VS_BAND_COUNT;
                bounce->lit[r * bounce->shining_count + e] |=
                    air[0] > 0 || air[1] > 0 || air[2] > 0;
            }
        }
    }
    return VS_OK;
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

/* Parts of patches that are lit unevenly: the patch's luminance, its own light put in place. */
static vs_status tell_parts(const haze_system *s, vs_bounce *bounce) {
    const vs_mesh *mesh = &s->views->mesh;
    double *lumens = calloc(s->lanes + 1, sizeof *lumens);
    bounce->hot = malloc((mesh->patch_count + 1) * sizeof *bounce->hot);
    if (!lumens || !bounce->hot) {
        free(lumens);
        return VS_ERR_MEMORY;
    }
    sum_lumens(s, lumens);
    for (size_t i = 0; i < mesh->patch_count; i++) {
        bool hot = mesh->patch[i].reflectance > 0 && lit_unevenly(s, i, lumens);
        bounce->hot[i] = hot ? bounce->hot_count++ : SIZE_MAX;
    }
    free(lumens);
    size_t parts = bounce->hot_count * VS_MESH_SUBS;
    bounce->sub_nits = malloc((parts * s->lanes + 1) * sizeof *bounce->sub_nits);
    bounce->weights =
        calloc(mesh->patch_count + mesh->cell_count + parts + 1, sizeof *bounce->weights);
    if (!bounce->sub_nits || !bounce->weights) {
        return VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < mesh->patch_count; i++) {
        double per = mesh->patch[i].reflectance / VS_PI;
        for (size_t n = 0; n < VS_MESH_SUBS * s->lanes && bounce->hot[i] != SIZE_MAX; n++) {
            size_t at = i * s->lanes + n % s->lanes;
            double own = s->sub_direct[i * VS_MESH_SUBS * s->lanes + n] - s->direct[at];
            bounce->sub_nits[bounce->hot[i] * VS_MESH_SUBS * s->lanes + n] =
                fmax(0, bounce->patch_nits[at] + per * own);
        }
    }
    return VS_OK;
}

vs_status vs_bounce_solve(const vs_radiosity *radiosity, const vs_medium *medium,
                          const vs_emitter *emitter, size_t emitter_count, vs_bounce *bounce) {
    const vs_views *views = radiosity->rows;
    const vs_bounce blank = {.radiosity = radiosity, .emitter_count = emitter_count};
    haze_system s = {.views = views, .medium = medium, .albedo = vs_gather_albedo(medium)};
    *bounce = blank;
    bounce->shining = calloc(emitter_count + 1, sizeof *bounce->shining);
    if (!bounce->shining) {
        return VS_ERR_MEMORY;
    }
    for (size_t e = 0; e < emitter_count; e++) {
        bool dark = vs_bands_luminance(emitter[e].strength) == 0;
        bounce->shining[e] = dark ? SIZE_MAX : bounce->shining_count++;
    }
    s.lanes = bounce->shining_count * VS_BAND_COUNT;
    bounce->patch_nits = calloc(views->mesh.patch_count * s.lanes + 1, sizeof(double));
    vs_status status = bounce->patch_nits ? system_allocate(&s) : VS_ERR_MEMORY;
    if (status == VS_OK) {
        status = system_light(&s, emitter, bounce);
    }
    if (status == VS_OK) {
        system_views(&s);
        system_air(&s);
        status = system_solve(&s, bounce->patch_nits);
    }
    if (status == VS_OK) {
        status = tell_parts(&s, bounce);
    }
    if (status == VS_OK) {
        status = tell_rooms(&s, bounce);
    }
    bounce->cell_nits = s.air;
    s.air = NULL;
    system_free(&s);
    if (status != VS_OK) {
        vs_bounce_free(bounce);
    }
    return status;
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
