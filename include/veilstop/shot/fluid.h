/* What a fluid's droplets are and do: the answer of the command `fluid`.
 * Optics from optics/haze.h, fall from air/settling.h. */
#ifndef VEILSTOP_SHOT_FLUID_H
#define VEILSTOP_SHOT_FLUID_H

#ifdef __cplusplus
extern "C" {
#endif

/** How a figure of a data sheet is known. */
typedef enum {
    VS_SOURCE_READ,     /* read in the source named, or in a text that quotes it */
    VS_SOURCE_MEMORY,   /* from memory of the source named */
    VS_SOURCE_PRACTICE, /* common practice, no source */
    VS_SOURCE_DERIVED,  /* worked out from others */
    VS_SOURCE_ASSUMED   /* an assumption */
} vs_source_status;

/** Where one figure of a fluid comes from. Borrowed texts. */
typedef struct {
    const char *figure; /* the key in the file: "gsd" */
    vs_source_status status;
    const char *text;
} vs_fluid_source;

#ifdef __cplusplus
}
#endif
#endif
