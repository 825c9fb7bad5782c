/* What each place - a cell of air, a patch that gives light back - sees: patches, each with its
 * share of the view and the air on the way. None of it hangs on how dense the haze is. */
#ifndef VEILSTOP_LIGHT_VIEWS_H
#define VEILSTOP_LIGHT_VIEWS_H

#include "light/mesh.h"

/* One way of looking at a patch. A row weighs what it sees: patches, and the cells before them. */
typedef struct {
    double share;      /* of the view, openings and nets on the way counted [1] */
    size_t patch, air; /* entries of the row: of the patch, of the cell half-way */
    size_t piece_end;  /* its pieces begin where those of the view before end */
} vs_view;

/* A stretch of a view in one room. */
typedef struct {
    size_t room;
    double length_m;
} vs_view_piece;

typedef struct {
    vs_mesh mesh;
    size_t place_count; /* cells, then patches */
    size_t *view_first; /* views of place i: view_first[i] to view_first[i + 1] */
    vs_view *view;
    size_t view_count, view_size;
    vs_view_piece *piece;
    size_t piece_count, piece_size;
    size_t *entry_first; /* entries of place i, each another place */
    size_t *entry;       /* entry: the place that is seen, never an opening */
    size_t entry_count, entry_size;
    size_t *found; /* place: its entry in the row that is being made */
} vs_views;

VS_WARN_UNUSED vs_status vs_views_init(vs_views *views, const vs_space *space,
                                       const vs_surfaces *surfaces);
void vs_views_free(vs_views *views);

#endif
