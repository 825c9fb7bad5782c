/* Three nested sums: places on the line of sight, ways from each, droplets on each way. The ways'
 * polar axis points at the light: near it once-scattered light grows as 1/sine, which the solid
 * angle's sine takes back. Source: Chandrasekhar 1950, Radiative Transfer, ch. I; similarity: van
 * de Hulst 1980, Multiple Light Scattering, ch. 14. */
#include "veilstop/light/refill.h"

#include <math.h>

#include "light/aim.h"
#include "light/kernel_droplets.h"
#include "light/kernel_rules.h"
#include "light/march.h"
#include "veilstop/base/units.h"

/* How finely; chosen on random locations: docs/physics.md. */
typedef struct {
    int places;   /* on a piece of a line of sight */
    int polars;   /* angles of ways from a place */
    int azimuths; /* of ways at one polar angle */
    int droplets; /* on a piece of a way */
} fineness;

static const fineness well = {5, 8, 5, 4}, rough = {2, 5, 3, 2};

/* The azimuths of the next polar angle and of the next place are turned by these shares of their
 * step, so that few of them miss little: the golden section's, and that of the root of two. */
#define POLAR_TURN 0.618033988749895 /* [1] (sqrt 5 - 1)/2 */
#define PLACE_TURN 0.414213562373095 /* [1] sqrt 2 - 1 */

#define PIECES_MAX   4
#define PIECE_HALF_M 0.6  /* [m] half a side from which a rectangle is halved; our choice */
#define APART_LEAST  0.25 /* [1] of a line's length: places on it crowd no more than that */

/* A place that light comes to. */
typedef struct {
    const vs_medium *medium;
    const vs_emitter *emitter;
    bool facing;
    vs_vec3 axis; /* facing: the normal; else where light is scattered to */
    const fineness *how;
    vs_vec3 at_m;
    size_t room;
    int number;               /* of the place among those of its piece */
    vs_lit_droplets droplets; /* seen from here, not yet counted */
    vs_bands nits;            /* counted */
} place;

/* One droplet of a way, at y: what lights it, and through how much haze its light comes here.
 * weight: of its share of the way, and of the way's share of all directions. */
static void add_droplet(place *p, const vs_sight_piece *piece, vs_vec3 way, double at_m,
                        vs_vec3 y_m, double weight) {
    vs_aim aim;
    double depth;
    const vs_medium *medium = p->medium;
    vs_lit_droplets *d = &p->droplets;
    if (!vs_aim_middle(p->emitter, medium->space, y_m, &aim)) {
        return;
    }
    double open = vs_aim_open(medium, p->emitter, y_m, piece->room, &aim, &depth) * piece->open;
    if (open == 0) {
        return;
    }
    size_t i = d->count++;
    d->weight[i] = weight * open * piece->extinction_per_m;
    d->depth[i] = depth + piece->depth + piece->extinction_per_m * (at_m - piece->from_m);
    d->first_cosine[i] = vs_vec3_dot(aim.toward, way);
    d->second_cosine[i] = -vs_vec3_dot(way, p->axis);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        d->lux[band][i] = aim.lux.v[band];
    }
    if (d->count == VS_LIT_DROPLETS_MAX) {
        vs_lit_droplets_add(d, medium, !p->facing, &p->nits);
    }
}

/* Droplets on a piece of a way: even in the angle at the light. */
static void add_stretch(place *p, const vs_sight_piece *piece, vs_vec3 way, double solid_sr) {
    double length_m = piece->to_m - piece->from_m;
    vs_vec3 start_m = vs_vec3_along(p->at_m, way, piece->from_m);
    vs_reach reach = vs_reach_make(p->emitter, p->medium->space, start_m, way, length_m);
    if (!(reach.about > 0)) {
        return;
    }
    const vs_kernel_rule *rule = &vs_kernel_rules[p->how->droplets];
    for (int i = 0; i < rule->count; i++) {
        double share = (1 + rule->node[i]) / 2, at_m, per;
        if (reach.apart_m > 0) {
            double span = reach.to_rad - reach.from_rad;
            double tangent = tan(reach.from_rad + share * span);
            at_m = reach.near_m + reach.apart_m * tangent;
            per = span * reach.apart_m * (1 + tangent * tangent);
        } else {
            per = reach.to_m - reach.from_m;
            at_m = reach.from_m + share * per;
        }
        add_droplet(p, piece, way, piece->from_m + at_m, vs_vec3_along(start_m, way, at_m),
                    solid_sr * per * rule->weight[i] / 2);
    }
}

/* Once-scattered light that comes to the place against a way, room by room. */
static void add_way(place *p, vs_vec3 way, double solid_sr) {
    const vs_space *space = p->medium->space;
    vs_sight_piece piece = {.room = p->room, .open = 1};
    for (int n = 0; n < VS_SIGHT_PIECE_MAX && piece.room != VS_SPACE_OUTSIDE; n++) {
        vs_march next =
            vs_march_on(space, vs_vec3_along(p->at_m, way, piece.from_m), way, piece.room);
        piece.to_m = piece.from_m + next.length_m;
        piece.extinction_per_m = p->medium->room_extinction_per_m[piece.room];
        if (piece.extinction_per_m > 0) {
            add_stretch(p, &piece, way, solid_sr);
        }
        if (next.end == VS_MARCH_SCREEN) {
            piece.open *= space->screen[next.index].transmittance;
        } else if (next.end == VS_MARCH_PORTAL) {
            piece.open *= space->portal[next.index].transmittance;
            piece.room = vs_march_beyond(&space->portal[next.index], piece.room);
        }
        if (piece.open == 0 || next.end == VS_MARCH_WALL) {
            return;
        }
        piece.depth += piece.extinction_per_m * next.length_m;
        piece.from_m = piece.to_m;
    }
}

/* The frame of the ways: the axis points at the light; its beam lies about u within half_rad. */
typedef struct {
    vs_vec3 axis, u, v;
    double half_rad;
} fan;

static void fan_about(fan *f, vs_vec3 middle) {
    vs_vec3 across = vs_vec3_along(middle, f->axis, -vs_vec3_dot(middle, f->axis));
    double length = vs_vec3_length(across);
    if (length > 1e-9) {
        f->u = vs_vec3_scale(across, 1 / length);
        f->v = vs_vec3_cross(f->axis, f->u);
    } else {
        vs_frame_about(f->axis, &f->u, &f->v);
    }
}

/* A spot seen from outside its cone: planes through the place and the lamp cut the cone only where
 * they are nearer to its axis than its angle. */
static void fan_of_spot(fan *f, const vs_emitter *e) {
    double cosine = -vs_vec3_dot(f->axis, e->axis), sine = sqrt(fmax(0, 1 - cosine * cosine));
    double edge = sin(fmin(e->spot.cutoff_rad, VS_PI / 2));
    bool inside = acos(fmin(1, fmax(-1, cosine))) < e->spot.cutoff_rad;
    fan_about(f, e->axis);
    f->half_rad = inside || sine <= edge ? VS_PI : asin(edge / sine);
}

/* A shaft of parallel light seen from beside it: the angle under which its opening lies, looked at
 * along the beam. */
static void fan_of_shaft(fan *f, const vs_space *space, const vs_emitter *e, vs_vec3 at_m) {
    const vs_rect *rect = &space->portal[e->portal].rect;
    vs_vec3 corner[4];
    fan_about(f, vs_vec3_sub(rect->center_m, at_m));
    vs_rect_corners(rect, corner);
    double widest = 0;
    for (int i = 0; i < 4; i++) {
        vs_vec3 d = vs_vec3_sub(corner[i], at_m);
        widest = fmax(widest, fabs(atan2(vs_vec3_dot(d, f->v), vs_vec3_dot(d, f->u))));
    }
    bool inside;
    vs_rect_pierced_at(rect, at_m, e->axis, &inside);
    f->half_rad = inside || widest > VS_PI / 2 ? VS_PI : widest;
}

/* False: the place is the light's own. */
static bool fan_make(const place *p, fan *f) {
    const vs_emitter *e = p->emitter;
    vs_vec3 towards = vs_vec3_sub(e->at_m, p->at_m);
    if (e->kind == VS_EMITTER_RECT) {
        towards = vs_vec3_sub(e->rect.center_m, p->at_m);
    } else if (e->kind == VS_EMITTER_LINE) {
        towards = vs_vec3_along(towards, e->axis, e->length_m / 2);
    } else if (e->kind == VS_EMITTER_PARALLEL) {
        towards = vs_vec3_scale(e->axis, -1);
    }
    double length_m = vs_vec3_length(towards);
    if (!(length_m > 0)) {
        return false;
    }
    f->axis = vs_vec3_scale(towards, 1 / length_m);
    f->half_rad = VS_PI;
    vs_frame_about(f->axis, &f->u, &f->v);
    if (e->kind == VS_EMITTER_PARALLEL) {
        fan_of_shaft(f, p->medium->space, e, p->at_m);
    } else if (e->kind == VS_EMITTER_POINT && e->profile == VS_PROFILE_SPOT) {
        fan_of_spot(f, e);
    }
    return true;
}

/* The ways at one polar angle, share of them all in solid angle / azimuth. Azimuths lie even in a
 * whole circle; in a fan they crowd about its middle, by the square, to and fro. */
static void add_ring(place *p, const fan *f, double polar, double share, double turn) {
    double sine = sin(polar), cosine = cos(polar);
    bool whole = f->half_rad == VS_PI;
    int azimuths = p->how->azimuths;
    for (int j = 0; j < azimuths; j++) {
        double u = (j + turn) / azimuths, s = 1 - 2 * fabs(2 * u - 1);
        double around = whole ? 2 * VS_PI * u : f->half_rad * s * fabs(s);
        double per = whole ? 2 * VS_PI / azimuths : f->half_rad * 4 * fabs(s) / azimuths;
        vs_vec3 way = vs_vec3_scale(f->axis, cosine);
        way = vs_vec3_along(way, f->u, sine * cos(around));
        way = vs_vec3_along(way, f->v, sine * sin(around));
        double worth = p->facing ? vs_vec3_dot(way, p->axis) : 1;
        if (worth > 0) {
            add_way(p, way, worth * sine * share * per);
        }
    }
}

/* Light that comes to a place once scattered, by what each way is worth. Polar angles crowd about
 * the light, by the square. */
static vs_bands gather(place *p) {
    fan f;
    p->nits = vs_bands_grey(0);
    p->droplets.count = 0;
    if (!fan_make(p, &f)) {
        return p->nits;
    }
    const vs_kernel_rule *rule = &vs_kernel_rules[p->how->polars];
    for (int i = 0; i < rule->count; i++) {
        double x = (1 + rule->node[i]) / 2, turn = 0.5 + i * POLAR_TURN + p->number * PLACE_TURN;
        add_ring(p, &f, VS_PI * x * x, VS_PI * x * rule->weight[i], turn - floor(turn));
    }
    vs_lit_droplets_add(&p->droplets, p->medium, !p->facing, &p->nits);
    return p->nits;
}

/* One piece of the line of sight: places crowd, mildly, where the light is near. */
static void add_piece(place *p, const vs_sight *sight, const vs_sight_piece *piece,
                      vs_bands *nits) {
    const vs_medium *medium = p->medium;
    double length_m = piece->to_m - piece->from_m, k = piece->extinction_per_m;
    vs_vec3 start_m = vs_sight_point(sight, piece->from_m);
    vs_vec3 light_m = p->emitter->kind == VS_EMITTER_PARALLEL
                          ? medium->space->portal[p->emitter->portal].rect.center_m
                          : p->emitter->at_m;
    vs_vec3 to_start = vs_vec3_sub(start_m, light_m);
    p->room = piece->room;
    double near_m = -vs_vec3_dot(to_start, sight->direction);
    double apart_m = vs_vec3_length(vs_vec3_along(to_start, sight->direction, near_m));
    apart_m = fmax(apart_m, APART_LEAST * length_m);
    double from = atan(-near_m / apart_m), span = atan((length_m - near_m) / apart_m) - from;
    const vs_kernel_rule *rule = &vs_kernel_rules[p->how->places];
    for (int i = 0; i < rule->count; i++) {
        double tangent = tan(from + span * (1 + rule->node[i]) / 2);
        double at_m = near_m + apart_m * tangent;
        double per = span * apart_m * (1 + tangent * tangent) * rule->weight[i] / 2;
        p->number = i;
        p->at_m = vs_vec3_along(start_m, sight->direction, at_m);
        vs_bands light = gather(p);
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            double ratio = medium->ratio.v[band];
            nits->v[band] += medium->haze->albedo.v[band] * ratio * k * per * piece->open *
                             exp(-ratio * (piece->depth + k * at_m)) * light.v[band];
        }
    }
}

/* A large panel or window is taken in pieces, each as from its middle. */
static size_t pieces_of(const vs_emitter *emitter, vs_emitter piece[PIECES_MAX]) {
    piece[0] = *emitter;
    if (emitter->kind != VS_EMITTER_RECT) {
        return 1;
    }
    const vs_rect *rect = &emitter->rect;
    int nu = rect->half_u_m > PIECE_HALF_M ? 2 : 1, nv = rect->half_v_m > PIECE_HALF_M ? 2 : 1;
    for (int i = 0; i < nu * nv; i++) {
        vs_rect *part = &piece[i].rect;
        double u = nu == 1 ? 0 : (i % 2 ? 0.5 : -0.5) * rect->half_u_m;
        double v = nv == 1 ? 0 : (i / nu ? 0.5 : -0.5) * rect->half_v_m;
        piece[i] = *emitter;
        part->center_m = vs_vec3_along(vs_vec3_along(rect->center_m, rect->u, u), rect->v, v);
        part->half_u_m = rect->half_u_m / nu;
        part->half_v_m = rect->half_v_m / nv;
        piece[i].at_m = part->center_m;
    }
    return (size_t)nu * (size_t)nv;
}

static vs_bands veil(const vs_medium *medium, const vs_sight *sight, const vs_emitter *emitter,
                     const fineness *how) {
    vs_emitter piece[PIECES_MAX];
    vs_bands nits = vs_bands_grey(0);
    if (vs_bands_luminance(emitter->strength) == 0) {
        return nits;
    }
    size_t pieces = pieces_of(emitter, piece);
    for (size_t i = 0; i < pieces; i++) {
        place p = {.medium = medium,
                   .emitter = &piece[i],
                   .axis = vs_vec3_scale(sight->direction, -1),
                   .how = how};
        for (size_t n = 0; n < sight->piece_count; n++) {
            if (sight->piece[n].extinction_per_m > 0) {
                add_piece(&p, sight, &sight->piece[n], &nits);
            }
        }
    }
    return nits;
}

static vs_bands lux(const vs_medium *medium, const vs_emitter *emitter, vs_vec3 p_m, vs_vec3 normal,
                    const fineness *how) {
    vs_emitter piece[PIECES_MAX];
    vs_vec3 at_m = vs_vec3_along(p_m, normal, 2 * VS_SPACE_SKIN_M);
    vs_bands sum = vs_bands_grey(0);
    size_t room = vs_space_room_at(medium->space, at_m);
    if (vs_bands_luminance(emitter->strength) == 0 || room == VS_SPACE_OUTSIDE) {
        return sum;
    }
    size_t pieces = pieces_of(emitter, piece);
    for (size_t i = 0; i < pieces; i++) {
        place p = {.medium = medium,
                   .emitter = &piece[i],
                   .facing = true,
                   .axis = normal,
                   .how = how,
                   .at_m = at_m,
                   .room = room};
        sum = vs_bands_add(sum, gather(&p));
    }
    return sum;
}

/* What is asked of each light: its veil on a line of sight, or its light on a surface. */
typedef struct {
    const vs_medium *medium;
    const vs_sight *sight; /* NULL: a surface */
    vs_vec3 p_m, normal;
} question;

static vs_bands answer(const question *q, const vs_emitter *emitter, const fineness *how) {
    return q->sight ? veil(q->medium, q->sight, emitter, how)
                    : lux(q->medium, emitter, q->p_m, q->normal, how);
}

/* All lights roughly; then those well that count for something. Their rough answers are asked again
 * rather than kept: that is a twelfth of asking well. */
static void add_answers(const question *q, const vs_emitter *emitter, size_t count,
                        const vs_bounce *bounce, double well_share, vs_bands *seen) {
    double whole = 0;
    for (size_t i = 0; i < count; i++) {
        if (!q->sight || vs_bounce_reaches(bounce, q->sight, i)) {
            seen[i] = vs_bands_add(seen[i], answer(q, &emitter[i], &rough));
        }
        whole += vs_bands_luminance(seen[i]);
    }
    for (size_t i = 0; i < count; i++) {
        bool counts = vs_bands_luminance(seen[i]) > well_share * whole;
        if (counts && (!q->sight || vs_bounce_reaches(bounce, q->sight, i))) {
            vs_bands good = answer(q, &emitter[i], &well), first = answer(q, &emitter[i], &rough);
            for (int band = 0; band < VS_BAND_COUNT; band++) {
                seen[i].v[band] = fmax(0, seen[i].v[band] - first.v[band]) + good.v[band];
            }
        }
    }
}

void vs_refill_add_veils(const vs_medium *medium, const vs_sight *sight, const vs_emitter *emitter,
                         const vs_bounce *bounce, double well_share, vs_bands *nits) {
    const question q = {.medium = medium, .sight = sight};
    add_answers(&q, emitter, bounce->emitter_count, bounce, well_share, nits);
}

void vs_refill_add_lux(const vs_medium *medium, vs_vec3 p_m, vs_vec3 normal,
                       const vs_emitter *emitter, const vs_bounce *bounce, double well_share,
                       vs_bands *lux) {
    const question q = {.medium = medium, .p_m = p_m, .normal = normal};
    add_answers(&q, emitter, bounce->emitter_count, bounce, well_share, lux);
}
