/* Three nested sums: places on the line of sight, ways from each, droplets on each way. The ways'
 * polar axis points at the light: near it once-scattered light grows as 1/sine, which the solid
 * angle's sine takes back. Source: Chandrasekhar 1950, Radiative Transfer, ch. I; similarity: van
 * de Hulst 1980, Multiple Light Scattering, ch. 14. */
#include "veilstop/light/refill.h"

#include <math.h>

#include "light/aim.h"
#include "veilstop/base/units.h"

/* Gauss-Legendre on [-1, 1], n = 6 and 4: Abramowitz & Stegun 1964, table 25.4. */
#define FINE   6 /* nodes of places on a line of sight, of polar angles, of droplets on a way */
#define COARSE 4 /* nodes of azimuths */
static const double fine_node[FINE] = {-0.932469514203152, -0.661209386466265, -0.238619186083197,
                                       0.238619186083197,  0.661209386466265,  0.932469514203152};
static const double fine_weight[FINE] = {0.171324492379170, 0.360761573048139, 0.467913934572691,
                                         0.467913934572691, 0.360761573048139, 0.171324492379170};
static const double coarse_node[COARSE] = {-0.861136311594053, -0.339981043584856,
                                           0.339981043584856, 0.861136311594053};
static const double coarse_weight[COARSE] = {0.347854845137454, 0.652145154862546,
                                             0.652145154862546, 0.347854845137454};

#define PIECES_MAX   4
#define PIECE_HALF_M 0.6  /* [m] half a side from which a rectangle is halved; our choice */
#define APART_LEAST  0.25 /* [1] of a line's length: places on it crowd no more than that */

/* What a way is worth to the place it leads to. */
typedef struct {
    const vs_medium *medium;
    const vs_emitter *emitter;
    bool facing;
    vs_vec3 axis; /* facing: the normal; else where light is scattered to */
    vs_vec3 at_m;
} place;

/* What all orders are over the second, by similarity: a droplet scatters the share g of its light
 * as good as straight on, the rest evenly. Were the event at the droplet in question itself
 * straight on, n such events in any order make one path: sum of (g t)^(n-1)/n!. An even one stands
 * out among them: sum of (g t)^n/n!. phase_per_sr  there; what of it is under the even share is
 * taken as even */
static double higher_orders(double depth, double g, double phase_per_sr) {
    double x = g * depth, all = exp(x);
    double straight = fabs(x) > 1e-6 ? expm1(x) / x : 1 + x / 2;
    double even = fmin(1, (1 - g) / (4 * VS_PI * phase_per_sr));
    return straight + even * (all - straight);
}

/* Adds the light of one droplet place on a way: lux x phase x what haze leaves. */
static void add_droplet(const place *p, const vs_sight_piece *piece, vs_vec3 way, double at_m,
                        vs_vec3 y_m, double length_m, vs_bands *nits) {
    vs_aim aim;
    double depth;
    const vs_medium *medium = p->medium;
    if (!vs_aim_middle(p->emitter, medium->space, y_m, &aim)) {
        return;
    }
    double open = vs_aim_open(medium, p->emitter, y_m, piece->room, &aim, &depth) * piece->open;
    if (open == 0) {
        return;
    }
    double cosine = vs_vec3_dot(aim.toward, way);
    depth += piece->depth + piece->extinction_per_m * (at_m - piece->from_m);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        const vs_haze *haze = medium->haze;
        double t = depth * medium->ratio.v[band];
        double albedo = haze->albedo.v[band];
        double phase = vs_phase_per_sr(&haze->phase[band], cosine);
        if (phase > 0) {
            nits->v[band] += albedo * medium->ratio.v[band] * piece->extinction_per_m * length_m *
                             open * aim.lux.v[band] * phase * exp(-t) *
                             higher_orders(t, albedo * haze->phase[band].g, phase);
        }
    }
}

/* Once-scattered light that comes to the place against a way [cd/m2]. */
static vs_bands light_of_way(const place *p, vs_vec3 way) {
    vs_bands nits = vs_bands_grey(0);
    vs_sight sight = vs_sight_along(p->medium, p->at_m, way, INFINITY);
    for (size_t n = 0; n < sight.piece_count; n++) {
        const vs_sight_piece *piece = &sight.piece[n];
        double length_m = piece->to_m - piece->from_m;
        vs_vec3 start_m = vs_sight_point(&sight, piece->from_m);
        vs_reach reach = vs_reach_make(p->emitter, p->medium->space, start_m, way, length_m);
        if (piece->extinction_per_m == 0 || !(reach.about > 0)) {
            continue;
        }
        for (int i = 0; i < COARSE; i++) {
            double share = (1 + coarse_node[i]) / 2, at_m, per;
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
                        per * coarse_weight[i] / 2, &nits);
        }
    }
    return nits;
}

static vs_bands worth(const place *p, vs_vec3 way) {
    if (p->facing) {
        return vs_bands_grey(fmax(0, vs_vec3_dot(way, p->axis)));
    }
    vs_bands phase;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        phase.v[band] = vs_phase_per_sr(&p->medium->haze->phase[band], -vs_vec3_dot(way, p->axis));
    }
    return phase;
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

/* Light that comes to a place once scattered, by what each way is worth. Azimuths crowd about the
 * middle of a fan, polar angles about the light, both by the square. */
static vs_bands gather(const place *p) {
    vs_bands sum = vs_bands_grey(0);
    fan f;
    if (!fan_make(p, &f)) {
        return sum;
    }
    bool whole = f.half_rad == VS_PI;
    for (int i = 0; i < FINE; i++) {
        double x = (1 + fine_node[i]) / 2, polar = VS_PI * x * x;
        double sine = sin(polar), cosine = cos(polar);
        for (int j = 0; j < COARSE; j++) {
            double s = coarse_node[j];
            double around = whole ? VS_PI * (2 * j + 1) / COARSE : f.half_rad * s * fabs(s);
            double share = whole ? 2 * VS_PI / COARSE : f.half_rad * 2 * fabs(s) * coarse_weight[j];
            vs_vec3 way = vs_vec3_scale(f.axis, cosine);
            way = vs_vec3_along(way, f.u, sine * cos(around));
            way = vs_vec3_along(way, f.v, sine * sin(around));
            vs_bands value = worth(p, way);
            if (value.v[VS_BAND_GREEN] <= 0) {
                continue;
            }
            double solid = sine * VS_PI * x * fine_weight[i] * share;
            value = vs_bands_mul(value, light_of_way(p, way));
            sum = vs_bands_add(sum, vs_bands_scale(value, solid));
        }
    }
    return sum;
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
    double near_m = -vs_vec3_dot(to_start, sight->direction);
    double apart_m = vs_vec3_length(vs_vec3_along(to_start, sight->direction, near_m));
    apart_m = fmax(apart_m, APART_LEAST * length_m);
    double from = atan(-near_m / apart_m), span = atan((length_m - near_m) / apart_m) - from;
    for (int i = 0; i < FINE; i++) {
        double tangent = tan(from + span * (1 + fine_node[i]) / 2);
        double at_m = near_m + apart_m * tangent;
        double per = span * apart_m * (1 + tangent * tangent) * fine_weight[i] / 2;
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

void vs_refill_veil(const vs_medium *medium, const vs_sight *sight, const vs_emitter *emitter,
                    vs_bands *nits) {
    vs_emitter piece[PIECES_MAX];
    *nits = vs_bands_grey(0);
    if (vs_bands_luminance(emitter->strength) == 0) {
        return;
    }
    size_t pieces = pieces_of(emitter, piece);
    for (size_t i = 0; i < pieces; i++) {
        place p = {
            .medium = medium, .emitter = &piece[i], .axis = vs_vec3_scale(sight->direction, -1)};
        for (size_t n = 0; n < sight->piece_count; n++) {
            if (sight->piece[n].extinction_per_m > 0) {
                add_piece(&p, sight, &sight->piece[n], nits);
            }
        }
    }
}

void vs_refill_lux(const vs_medium *medium, const vs_emitter *emitter, vs_vec3 p_m, vs_vec3 normal,
                   vs_bands *lux) {
    vs_emitter piece[PIECES_MAX];
    vs_vec3 at_m = vs_vec3_along(p_m, normal, 2 * VS_SPACE_SKIN_M);
    *lux = vs_bands_grey(0);
    if (vs_bands_luminance(emitter->strength) == 0 ||
        vs_space_room_at(medium->space, at_m) == VS_SPACE_OUTSIDE) {
        return;
    }
    size_t pieces = pieces_of(emitter, piece);
    for (size_t i = 0; i < pieces; i++) {
        place p = {
            .medium = medium, .emitter = &piece[i], .facing = true, .axis = normal, .at_m = at_m};
        *lux = vs_bands_add(*lux, gather(&p));
    }
}
