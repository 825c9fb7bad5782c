/* A walk's chain of legs goes from surface to surface in clear air; on each chain one droplet is
 * placed, where light and way are most, from which a chain of the next generation begins. How far
 * haze dims a leg and how much a droplet scatters is left to whoever knows the density. */
#include "light/tracing.h"

#include <math.h>
#include <stdlib.h>

#include "light/emission.h"
#include "light/grown.h"
#include "light/march.h"
#include "light/pools.h"
#include "veilstop/base/quasi_random.h"
#include "veilstop/base/random.h"
#include "veilstop/base/units.h"

/* Measured together: docs/accuracy.md. */
#define WALKS       2048 /* of one emitter */
#define LEGS_MAX    256  /* of one chain */
#define LEAST_SHARE 0.1  /* [1] chains that carry less are ended by chance */
#define ONWARD      0.6  /* [1] chance that a scattered chain is scattered again */
#define GENERATIONS 24
#define THIN_BEAMS  20
/* Evenly spread numbers of a walk: where it begins, its first turns, its first droplet. */
#define BOUNCE_FIRST  4
#define SCATTER_FIRST 10
#define DIMENSIONS    16
#define NARROW      0.9  /* [1] mean cosine to the mean direction from which a beam is narrow */

typedef struct {
    const vs_mesh *mesh;
    const vs_emitter *emitter;
    vs_tracing *tracing;
    vs_random random;
    const double *even; /* evenly spread numbers for the first turns of this walk */
    size_t even_left;
    double *share; /* leg of the chain in hand: what sets out on it in clear air, of what began */
    vs_status status;
} tracer;

static double draw(tracer *t) {
    if (t->even_left > 0) {
        t->even_left--;
        return *t->even++;
    }
    return vs_random_uniform(&t->random);
}

/* ---- one chain ---- */

static void *grown(tracer *t, void *list, size_t count, size_t *size, size_t bytes) {
    void *more = vs_grown(list, count, size, bytes);
    t->status = more ? t->status : VS_ERR_MEMORY;
    return more ? more : list;
}

static vs_leg *add_leg(tracer *t, size_t room, vs_vec3 at_m, vs_vec3 way, vs_leg_origin origin) {
    vs_tracing *all = t->tracing;
    all->leg = grown(t, all->leg, all->leg_count, &all->leg_size, sizeof *all->leg);
    if (t->status != VS_OK) {
        return NULL;
    }
    vs_leg leg = {.from_m = {(float)at_m.x, (float)at_m.y, (float)at_m.z},
                  .way = {(float)way.x, (float)way.y, (float)way.z},
                  .target = VS_LEG_NONE,
                  .room = (uint16_t)room,
                  .origin = (uint8_t)origin};
    all->leg[all->leg_count] = leg;
    return &all->leg[all->leg_count++];
}

/* The walk as it stands: where, in which direction, in which room; what is left in clear air. */
typedef struct {
    vs_vec3 at_m, way, normal;
    size_t room;
    vs_leg_origin origin;
    double share;
} walker;

/* Diffusely off a surface, by the cosine law. */
static void leave_surface(tracer *t, walker *w) {
    double cosine = sqrt(draw(t));
    w->way = vs_vec3_tilted(w->normal, cosine, 2 * VS_PI * draw(t));
    w->origin = VS_LEG_FROM_SURFACE;
}

/* What a leg ends at, and where the walk goes from there. False: it is over. */
static bool turn(tracer *t, walker *w, const vs_march *end, vs_leg *leg) {
    const vs_space *space = t->mesh->space;
    double reflectance, passed = 0;
    if (end->end == VS_MARCH_NOWHERE) {
        return false;
    }
    if (end->end == VS_MARCH_PORTAL) {
        const vs_portal *portal = &space->portal[end->index];
        leg->onward = (float)portal->transmittance;
        w->room = vs_march_beyond(portal, w->room);
        w->origin = w->origin == VS_LEG_FROM_BEAM_AIR ? VS_LEG_FROM_AIR
                    : w->origin == VS_LEG_FROM_AIR    ? VS_LEG_FROM_AIR_BEYOND
                                                      : w->origin;
        w->share *= portal->transmittance;
        return w->room != VS_SPACE_OUTSIDE && portal->transmittance > 0;
    }
    size_t patch;
    if (end->end == VS_MARCH_WALL) {
        patch = vs_mesh_face_patch(t->mesh, w->room, end->face, w->at_m);
        w->normal = vs_surfaces_inward(end->face);
    } else {
        const vs_screen *screen = &space->screen[end->index];
        bool front = vs_vec3_dot(w->way, screen->rect.normal) < 0;
        passed = screen->transmittance;
        patch = vs_mesh_screen_patch(t->mesh, end->index, front, w->at_m);
        w->normal = front ? screen->rect.normal : vs_vec3_scale(screen->rect.normal, -1);
    }
    if (patch == VS_MESH_NONE) { /* a screen outside: what it reflects is not followed */
        leg->onward = (float)passed;
        w->share *= passed;
        return passed > 0;
    }
    reflectance = t->mesh->patch[patch].reflectance;
    leg->target = (uint32_t)patch;
    leg->stopped = (float)(1 - passed);
    /* through a net, or off it: by chance, as much as each takes */
    double off = reflectance * (1 - passed), whole = passed + off;
    if (whole <= 0) {
        return false;
    }
    leg->onward = (float)whole;
    w->share *= whole;
    if (passed == 0 || draw(t) * whole >= passed) {
        leave_surface(t, w);
    }
    return true;
}

/* Chains that carry little are ended by chance; those that are not then stand for more. */
static bool goes_on(tracer *t, walker *w, vs_leg *leg) {
    if (w->share >= LEAST_SHARE) {
        return true;
    }
    double chance = w->share / LEAST_SHARE;
    if (draw(t) >= chance) {
        leg->onward = 0;
        return false;
    }
    leg->onward = (float)((double)leg->onward / chance);
    w->share = LEAST_SHARE;
    return true;
}

static void trace_chain(tracer *t, vs_chain *chain, walker w) {
    chain->leg_first = (uint32_t)t->tracing->leg_count;
    chain->leg_count = 0;
    while (chain->leg_count < LEGS_MAX) {
        vs_leg *leg = add_leg(t, w.room, w.at_m, w.way, w.origin);
        if (!leg) {
            return;
        }
        vs_march end = vs_march_on(t->mesh->space, w.at_m, w.way, w.room);
        leg->length_m = (float)end.length_m;
        t->share[chain->leg_count++] = w.share;
        w.at_m = vs_vec3_along(w.at_m, w.way, end.length_m);
        if (!turn(t, &w, &end, leg) || !goes_on(t, &w, leg)) {
            break;
        }
    }
}

static void add_chain(tracer *t, vs_chain chain) {
    vs_tracing *all = t->tracing;
    all->chain = grown(t, all->chain, all->chain_count, &all->chain_size, sizeof *all->chain);
    if (t->status == VS_OK) {
        all->chain[all->chain_count++] = chain;
    }
}

static void end_generation(tracer *t) {
    vs_tracing *all = t->tracing;
    all->generation_end = grown(t, all->generation_end, all->generation_count,
                                &all->generation_size, sizeof *all->generation_end);
    if (t->status == VS_OK) {
        all->generation_end[all->generation_count++] = all->chain_count;
    }
}

/* ---- the first generation ---- */

static void set_out(tracer *t, const vs_emission *e) {
    walker w = {.at_m = e->at_m,
                .way = e->way,
                .room = e->room,
                .origin = VS_LEG_FROM_LAMP,
                .share = 1};
    vs_chain chain = {.parent = VS_LEG_NONE, .share = e->lumens};
    trace_chain(t, &chain, w);
    add_chain(t, chain);
}

/* ---- the next ones ---- */

/* What sets out on each leg in clear air, of what began on the chain. */
static void recall_shares(tracer *t, const vs_chain *chain) {
    const vs_leg *leg = &t->tracing->leg[chain->leg_first];
    t->share[0] = 1;
    for (size_t i = 1; i < chain->leg_count; i++) {
        t->share[i] = t->share[i - 1] * (double)leg[i - 1].onward;
    }
}

/* Drawn as the hazes in question scatter, and enough to every side for any other: a mixture of
 * Henyey-Greenstein functions. */
#define MIXED 3
static const double mixed_g[MIXED] = {0.85, 0.5, 0}, mixed_to[MIXED] = {0.4, 0.75, 1};

static double draw_cosine(tracer *t) {
    double which = draw(t), from = 0;
    int i = 0;
    while (which >= mixed_to[i]) {
        from = mixed_to[i++];
    }
    double g = mixed_g[i], u = (which - from) / (mixed_to[i] - from);
    if (g == 0) {
        return 1 - 2 * u;
    }
    double s = (1 - g * g) / (1 - g + 2 * g * u);
    return fmin(1, fmax(-1, (1 + g * g - s * s) / (2 * g)));
}

static double cosine_per_sr(double cosine) {
    double sum = 0, from = 0;
    for (int i = 0; i < MIXED; i++) {
        double g = mixed_g[i], base = 1 + g * g - 2 * g * cosine;
        sum += (mixed_to[i] - from) * (1 - g * g) / (4 * VS_PI * base * sqrt(base));
        from = mixed_to[i];
    }
    return sum;
}

/* A droplet on a chain, drawn where light and way are most; a chain from there. */
static void scatter(tracer *t, const vs_chain *parent, double chance) {
    const vs_leg *leg = &t->tracing->leg[parent->leg_first];
    double sum = 0, so_far = 0;
    recall_shares(t, parent);
    for (size_t i = 0; i < parent->leg_count; i++) {
        sum += t->share[i] * (double)leg[i].length_m;
    }
    if (!(sum > 0)) {
        return;
    }
    double at = draw(t) * sum;
    size_t i = 0;
    while (i + 1 < parent->leg_count && so_far + t->share[i] * (double)leg[i].length_m <= at) {
        so_far += t->share[i] * (double)leg[i].length_m;
        i++;
    }
    double at_m = fmin((at - so_far) / t->share[i], (double)leg[i].length_m);
    vs_vec3 from_m = vs_leg_from(&leg[i]), way = vs_leg_way(&leg[i]);
    double cosine = draw_cosine(t);
    vs_chain chain = {.parent = parent->leg_first + (uint32_t)i,
                      .parent_at_m = (float)at_m,
                      .share = sum / (t->share[i] * chance),
                      .cosine = (float)cosine,
                      .per_sr = (float)cosine_per_sr(cosine)};
    bool beam = t->tracing->narrow && leg[i].origin == VS_LEG_FROM_LAMP;
    walker w = {.at_m = vs_vec3_along(from_m, way, at_m),
                .way = vs_vec3_tilted(vs_vec3_unit(way), cosine, 2 * VS_PI * draw(t)),
                .room = leg[i].room,
                .origin = beam ? VS_LEG_FROM_BEAM_AIR : VS_LEG_FROM_AIR,
                .share = 1};
    trace_chain(t, &chain, w);
    add_chain(t, chain);
}

static void scatter_generation(tracer *t, size_t first, size_t end, size_t generation,
                               const double *even) {
    double chance = generation == 1 ? 1 : ONWARD;
    for (size_t i = first; i < end && t->status == VS_OK; i++) {
        t->random = vs_random_make(generation, i - first);
        t->even = even + (i - first) % WALKS * DIMENSIONS + SCATTER_FIRST;
        t->even_left = generation == 1 ? DIMENSIONS - SCATTER_FIRST : 0;
        if (generation == 1 || draw(t) < chance) {
            vs_chain parent = t->tracing->chain[i];
            scatter(t, &parent, chance);
        }
    }
}

/* ---- beams ---- */

/* The mean direction of light from the emitter; the narrower its beam, the longer. */
static vs_vec3 mean_way(const vs_tracing *all) {
    vs_vec3 sum = {0, 0, 0};
    double whole = 0;
    for (size_t i = 0; i < all->chain_count; i++) {
        vs_vec3 way = vs_leg_way(&all->leg[all->chain[i].leg_first]);
        sum = vs_vec3_along(sum, way, all->chain[i].share);
        whole += all->chain[i].share;
    }
    return vs_vec3_scale(sum, whole > 0 ? 1 / whole : 0);
}

static size_t direct_legs(const vs_tracing *all, const vs_chain *chain) {
    size_t count = 0;
    while (count < chain->leg_count &&
           all->leg[chain->leg_first + count].origin == VS_LEG_FROM_LAMP) {
        count++;
    }
    return count;
}

/* The first walks are evenly spread over the beam: a few of them stand for all of it. */
static void make_thin_beams(tracer *t) {
    vs_tracing *all = t->tracing;
    const vs_emitter *e = t->emitter;
    bool small = e->kind == VS_EMITTER_POINT || e->kind == VS_EMITTER_PARALLEL;
    double narrowness = vs_vec3_length(mean_way(all)), whole = 0;
    all->narrow = small && all->chain_count >= THIN_BEAMS && narrowness > NARROW;
    if (!all->narrow) {
        return;
    }
    all->thin = calloc(THIN_BEAMS, sizeof *all->thin);
    if (!all->thin) {
        t->status = VS_ERR_MEMORY;
        return;
    }
    for (size_t i = 0; i < all->chain_count; i++) {
        whole += all->chain[i].share;
    }
    double some = 0;
    for (size_t i = 0; i < THIN_BEAMS; i++) {
        some += all->chain[i].share;
    }
    for (size_t i = 0; i < THIN_BEAMS; i++) {
        const vs_chain *chain = &all->chain[i];
        vs_thin_beam thin = {chain->leg_first, (uint32_t)direct_legs(all, chain),
                             chain->share * whole / some};
        all->thin[all->thin_count++] = thin;
    }
    all->axis_from_m = e->at_m;
    all->axis = vs_vec3_unit(mean_way(all));
    if (e->kind == VS_EMITTER_PARALLEL) {
        const vs_rect *rect = &t->mesh->space->portal[e->portal].rect;
        all->axis_from_m = rect->center_m;
        double cosine = fabs(vs_vec3_dot(e->axis, rect->normal));
        all->beam_start_m2 = 4 * rect->half_u_m * rect->half_v_m * cosine / THIN_BEAMS;
    } else {
        all->beam_spread_sr = 4 * VS_PI * (1 - narrowness) / THIN_BEAMS;
    }
}

/* ---- all of it ---- */

static void note_lit_rooms(vs_tracing *all) {
    for (size_t i = 0; i < all->leg_count; i++) {
        if (all->leg[i].origin == VS_LEG_FROM_LAMP) {
            all->lit_room[all->leg[i].room] = true;
        }
    }
}

static vs_status trace(tracer *t) {
    double *even = malloc((size_t)WALKS * DIMENSIONS * sizeof *even);
    vs_status status = even ? vs_sobol_points(DIMENSIONS, WALKS, even) : VS_ERR_MEMORY;
    vs_emission_source source = vs_emission_source_make(t->mesh->space, t->emitter);
    t->status = status;
    for (size_t n = 0; n < WALKS && t->status == VS_OK; n++) {
        vs_emission emission[VS_EMISSIONS_MAX];
        size_t count = vs_emission_draw(&source, even + n * DIMENSIONS, WALKS, emission);
        t->random = vs_random_make(0, n);
        for (size_t i = 0; i < count && t->status == VS_OK; i++) {
            t->even = even + n * DIMENSIONS + BOUNCE_FIRST;
            t->even_left = i == 0 ? SCATTER_FIRST - BOUNCE_FIRST : 0;
            set_out(t, &emission[i]);
        }
    }
    if (t->status == VS_OK) {
        make_thin_beams(t);
    }
    end_generation(t);
    size_t first = 0;
    for (size_t g = 1; g < GENERATIONS && t->status == VS_OK; g++) {
        size_t end = t->tracing->chain_count;
        scatter_generation(t, first, end, g, even);
        first = end;
        if (t->tracing->chain_count == end) {
            break;
        }
        end_generation(t);
    }
    free(even);
    return t->status;
}

vs_status vs_tracing_init(vs_tracing *tracing, const vs_mesh *mesh, const vs_emitter *emitter) {
    const vs_tracing blank = {0};
    *tracing = blank;
    tracer t = {.mesh = mesh, .emitter = emitter, .tracing = tracing};
    t.share = calloc(LEGS_MAX, sizeof *t.share);
    tracing->lit_room = calloc(mesh->space->room_count + 1, sizeof *tracing->lit_room);
    vs_status status = t.share && tracing->lit_room ? trace(&t) : VS_ERR_MEMORY;
    free(t.share);
    if (status == VS_OK) {
        note_lit_rooms(tracing);
        status = vs_pools_find(tracing, mesh, emitter);
    }
    if (status != VS_OK) {
        vs_tracing_free(tracing);
    }
    return status;
}

void vs_tracing_free(vs_tracing *tracing) {
    const vs_tracing blank = {0};
    free(tracing->leg);
    free(tracing->chain);
    free(tracing->generation_end);
    free(tracing->direct);
    free(tracing->pool);
    free(tracing->thin);
    free(tracing->lit_room);
    *tracing = blank;
}
/* ---- whether walks still hold ---- */

static bool same_vec3(vs_vec3 a, vs_vec3 b) {
    return a.x == b.x && a.y == b.y && a.z == b.z;
}

static bool same_rect(const vs_rect *a, const vs_rect *b) {
    return same_vec3(a->center_m, b->center_m) && same_vec3(a->u, b->u) && same_vec3(a->v, b->v) &&
           a->half_u_m == b->half_u_m && a->half_v_m == b->half_v_m;
}

static bool same_profile(const vs_emitter *a, const vs_emitter *b) {
    if (a->profile != b->profile) {
        return false;
    }
    if (a->profile == VS_PROFILE_SPOT) {
        return a->spot.half_rad == b->spot.half_rad && a->spot.exponent == b->spot.exponent &&
               a->spot.cutoff_rad == b->spot.cutoff_rad;
    }
    return a->profile != VS_PROFILE_PHOTOMETRY ||
           (a->table == b->table && same_vec3(a->frame.nadir, b->frame.nadir) &&
            same_vec3(a->frame.c0, b->frame.c0) && same_vec3(a->frame.c90, b->frame.c90));
}

bool vs_tracing_alike(const vs_emitter *a, const vs_emitter *b) {
    if (a->kind != b->kind || a->portal != b->portal || a->room != b->room ||
        !same_vec3(a->at_m, b->at_m) || !same_vec3(a->axis, b->axis)) {
        return false;
    }
    switch (a->kind) {
    case VS_EMITTER_POINT:
        return same_profile(a, b);
    case VS_EMITTER_LINE:
        return a->length_m == b->length_m;
    case VS_EMITTER_RECT:
        return same_rect(&a->rect, &b->rect);
    case VS_EMITTER_PARALLEL:
        break;
    }
    return true;
}
