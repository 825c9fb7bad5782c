/* What each patch sees: a row of other patches with their share of the view. */
#ifndef VEILSTOP_LIGHT_VIEWS_H
#define VEILSTOP_LIGHT_VIEWS_H

#include "light/mesh.h"

typedef struct {
    size_t patch;    /* seen: never an opening */
    double share;    /* of the view, openings and nets on the way counted [1] */
    double length_m; /* middle to middle */
    size_t room;     /* both are in it; VS_SPACE_OUTSIDE: in different rooms */
    size_t cell;     /* of air, half-way */
} vs_view;

typedef struct {
    vs_mesh mesh;
    size_t *first; /* views of patch i: first[i] to first[i + 1] */
    vs_view *view;
    size_t count, size;
} vs_views;

VS_WARN_UNUSED vs_status vs_views_init(vs_views *views, const vs_space *space,
                                       const vs_surfaces *surfaces);
void vs_views_free(vs_views *views);

#endif
