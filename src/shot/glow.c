/* Glow: how far round a bright source its own veil stays over a tenth of middle grey, and over
 * grey. Measured on the camera's lines of sight to the left, right, above and below it, and
 * averaged. */
#include <math.h>

#include "shot/look.h"

#define TURN_MIN_RAD 1e-4 /* [rad] nearer than this is the source itself */
#define TURN_MAX_RAD (VS_PI / 2)
#define HALVINGS     14 /* of the logarithm of the angle: to 0.1 % */

static vs_status veil_beside(const vs_look *look, const vs_emitter *emitter, vs_vec3 direction,
                             vs_vec3 side, double turn_rad, double *nits) {
    vs_bands veil;
    vs_vec3 way = vs_vec3_along(vs_vec3_scale(direction, cos(turn_rad)), side, sin(turn_rad));
    vs_sight sight = vs_sight_along(&look->hazed, look->camera->at_m, vs_vec3_unit(way), INFINITY);
    vs_status status = vs_look_veil_of(look, &sight, emitter, &veil);
    *nits = vs_bands_luminance(veil);
    return status;
}

/* The angle within which the veil is over a luminance on one side; 0 where it never is. */
static vs_status reach_rad(const vs_look *look, const vs_emitter *emitter, vs_vec3 direction,
                           vs_vec3 side, double over_nits, double *reach) {
    double low = log(TURN_MIN_RAD), high = log(TURN_MAX_RAD), nits;
    vs_status status = veil_beside(look, emitter, direction, side, TURN_MIN_RAD, &nits);
    *reach = 0;
    if (status != VS_OK || nits < over_nits) {
        return status;
    }
    for (int i = 0; i < HALVINGS; i++) {
        double middle = (low + high) / 2;
        status = veil_beside(look, emitter, direction, side, exp(middle), &nits);
        if (status != VS_OK) {
            return status;
        }
        if (nits >= over_nits) {
            low = middle;
        } else {
            high = middle;
        }
    }
    *reach = exp(low);
    return VS_OK;
}

vs_status vs_look_glow(const vs_look *look, const vs_emitter *emitter, vs_vec3 at_m,
                       vs_glow_prediction *glow) {
    double grey_nits = vs_camera_grey_nits(look->camera), reach;
    vs_vec3 direction = vs_vec3_unit(vs_vec3_sub(at_m, look->camera->at_m));
    vs_vec3 right = vs_vec3_unit(vs_vec3_cross(direction, look->view.up));
    vs_vec3 up = vs_vec3_cross(right, direction);
    const vs_vec3 side[4] = {right, up, vs_vec3_scale(right, -1), vs_vec3_scale(up, -1)};
    vs_status status = VS_OK;
    glow->tenth_rad = glow->grey_rad = 0;
    for (int i = 0; i < 4 && status == VS_OK; i++) {
        status = reach_rad(look, emitter, direction, side[i], grey_nits / 10, &reach);
        glow->tenth_rad += reach / 4;
        if (status == VS_OK) {
            status = reach_rad(look, emitter, direction, side[i], grey_nits, &reach);
            glow->grey_rad += reach / 4;
        }
    }
    return status;
}
