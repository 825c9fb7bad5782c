/* What is in the air: the fluid, the machine that makes haze of it, and the light of the walls. */
#include "scene/reader.h"
#include "veilstop/base/units.h"
#include "veilstop/scene/fluid.h"

#define DEFAULT_FLUID_ML_PER_H 30.0  /* [ml/h] mid-size water-based 15 to 60, common practice */
#define DEFAULT_AIRBORNE       0.9   /* [1] assumption: the rest wets walls near the machine */
#define DEFAULT_WARM_UP_S      60.0  /* [s] common practice, no source */
#define DEFAULT_BURST_MIN_S    5.0   /* [s] common practice, no source */
#define DEFAULT_BURST_MAX_S    120.0 /* [s] common practice, no source */

static void read_fluid(vs_scene_reader *reader) {
    vs_json_value value = vs_json_get(&reader->root, "fluid");
    vs_status status =
        vs_fluid_resolve(&value, reader->places->data_directory, &reader->scene->fluid);
    reader->out_of_memory = reader->out_of_memory || status == VS_ERR_MEMORY;
    reader->file_unread = reader->file_unread || status == VS_ERR_FILE;
}

/* Shortest and longest burst. */
static void read_bursts(const vs_json_value *value, vs_scene_hazer *hazer) {
    static const vs_json_range burst_s = {0.1, 86400, false, false};
    double burst[2] = {DEFAULT_BURST_MIN_S, DEFAULT_BURST_MAX_S};
    vs_json_value list = vs_json_get(value, "burst_s");
    if (vs_json_exists(&list)) {
        (void)vs_json_need_numbers(&list, NULL, burst_s, burst, 2);
    }
    if (burst[0] > burst[1]) {
        vs_json_fault(&list, "must be the shortest burst, then the longest (got %.6g, %.6g)",
                      burst[0], burst[1]);
    }
    hazer->burst_min_s = burst[0];
    hazer->burst_max_s = burst[1];
}

static void read_hazer(vs_scene_reader *reader) {
    static const vs_json_range fluid_ml_per_h = {0, 1e5, true, false};
    static const vs_json_range airborne = {0, 1, true, false};
    static const vs_json_range warm_up_s = {0, 3600, false, false};
    vs_scene_hazer *hazer = &reader->scene->hazer;
    vs_json_value value = vs_json_get(&reader->root, "hazer");
    hazer->room = VS_NONE;
    if (!vs_json_exists(&value) || !vs_scene_check_keys(&value, VS_KEYS_HAZER, ~0u, "")) {
        return;
    }
    hazer->room = vs_scene_take_room(reader, &value);
    hazer->fluid_ml_per_s =
        vs_json_take_number(&value, "fluid_ml_per_h", fluid_ml_per_h, DEFAULT_FLUID_ML_PER_H) /
        VS_S_PER_H;
    hazer->airborne_fraction =
        vs_json_take_number(&value, "airborne_fraction", airborne, DEFAULT_AIRBORNE);
    hazer->warm_up_s = vs_json_take_number(&value, "warm_up_s", warm_up_s, DEFAULT_WARM_UP_S);
    read_bursts(&value, hazer);
}

static void read_indirect(vs_scene_reader *reader) {
    static const vs_json_range nits = {0, 1e6, false, false};
    vs_json_value value = vs_json_get(&reader->root, "indirect");
    vs_scene *scene = reader->scene;
    scene->indirect = VS_INDIRECT_COMPUTED;
    scene->indirect_nits = NAN;
    if (vs_json_is_object(&value)) {
        scene->indirect = VS_INDIRECT_NITS;
        vs_scene_check_keys(&value, VS_KEYS_INDIRECT, ~0u, "");
        scene->indirect_nits = vs_json_need_number(&value, "nits", nits);
    } else if (vs_json_is_word(&value, "none")) {
        scene->indirect = VS_INDIRECT_NONE;
    } else if (vs_json_exists(&value) && !vs_json_is_word(&value, "computed")) {
        vs_json_fault_got(&value, "must be \"computed\", \"none\" or {\"nits\": number}");
    }
}

void vs_scene_read_air(vs_scene_reader *reader) {
    read_fluid(reader);
    read_hazer(reader);
    read_indirect(reader);
}
