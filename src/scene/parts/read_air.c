/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is in the air: the fluid, the hazers that emit it, and whether room bounce counts. */
#include "scene/parts/read_air.h"

#include "scene/reader.h"
#include "veilstop/base/units.h"
#include "veilstop/scene/fluid.h"

#define DEFAULT_FLUID_ML_PER_H 30.0 /* [ml/h] mid-size water-based 15 to 60, common practice */
#define DEFAULT_AIRBORNE       0.9  /* [1] assumption: the rest wets surfaces near the machine */
#define DEFAULT_WARM_UP_S      60.0 /* [s] common practice, no source */
#define DEFAULT_BURST_MIN_S    5.0  /* [s] common practice, no source */
#define OUT_LEAST_ML_PER_S     (1e-6 / VS_S_PER_H) /* less comes to nothing in sums: our choice */
#define DEFAULT_BURST_MAX_S    120.0               /* [s] common practice, no source */

static void read_fluid(vs_scene_reader *reader) {
    vs_json_value value = vs_json_get(&reader->root, "fluid");
    vs_status status = vs_fluid_resolve(&value, reader->places->data_directory,
                                        reader->places->reader, &reader->scene->fluid);
    reader->out_of_memory = reader->out_of_memory || status == VS_ERR_MEMORY;
    reader->file_unread = reader->file_unread || status == VS_ERR_FILE;
}

/* Shortest and longest burst, narrowed to what all machines can do. */
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
        return;
    }
    if (burst[0] > hazer->burst_max_s || burst[1] < hazer->burst_min_s) {
        vs_json_fault(vs_json_exists(&list) ? &list : value,
                      "must have a burst that all hazers can do (got %.6g to "
                      "%.6g s, those before it %.6g to %.6g s)",
                      burst[0], burst[1], hazer->burst_min_s, hazer->burst_max_s);
        return;
    }
    hazer->burst_min_s = fmax(hazer->burst_min_s, burst[0]);
    hazer->burst_max_s = fmin(hazer->burst_max_s, burst[1]);
}

static void read_machine(vs_scene_reader *reader, const vs_json_value *value,
                         vs_scene_machine *machine) {
    static const vs_json_range fluid_ml_per_h = {0, 1e5, true, false};
    static const vs_json_range airborne = {0, 1, true, false};
    static const vs_json_range warm_up_s = {0, 3600, false, false};
    vs_scene_hazer *hazer = &reader->scene->hazer;
    if (!vs_scene_check_keys(value, VS_KEYS_HAZER, VS_KIND_UNKNOWN)) {
        machine->room = VS_NONE;
        return;
    }
    machine->room = vs_scene_take_room(reader, value);
    machine->fluid_ml_per_s =
        vs_json_take_number(value, "fluid_ml_per_h", fluid_ml_per_h, DEFAULT_FLUID_ML_PER_H) /
        VS_S_PER_H;
    machine->airborne_fraction =
        vs_json_take_number(value, "airborne_fraction", airborne, DEFAULT_AIRBORNE);
    double out_ml_per_s = machine->fluid_ml_per_s * machine->airborne_fraction;
    if (!(out_ml_per_s >= OUT_LEAST_ML_PER_S) && !isnan(out_ml_per_s)) {
        vs_json_fault(value, "must put at least %g ml/h into the air (got %.3g)",
                      OUT_LEAST_ML_PER_S * VS_S_PER_H, out_ml_per_s * VS_S_PER_H);
        machine->room = VS_NONE;
    }
    hazer->warm_up_s = fmax(hazer->warm_up_s,
                            vs_json_take_number(value, "warm_up_s", warm_up_s, DEFAULT_WARM_UP_S));
    read_bursts(value, hazer);
}

/* All machines together as one hazer. */
static void join_machines(vs_scene_reader *reader, const vs_scene_machine *machine, size_t count,
                          bool listed) {
    vs_scene_hazer *hazer = &reader->scene->hazer;
    double *share = vs_scene_new(reader, reader->scene->room_count, sizeof *share);
    double airborne_ml_per_s = 0, most = 0;
    for (size_t i = 0; i < count; i++) {
        double out = machine[i].fluid_ml_per_s * machine[i].airborne_fraction;
        if (!share || machine[i].room == VS_NONE || !(out > 0)) {
            hazer->room = VS_NONE; /* already reported */
            return;
        }
        hazer->fluid_ml_per_s += machine[i].fluid_ml_per_s;
        airborne_ml_per_s += out;
        share[machine[i].room] += out;
    }
    hazer->airborne_fraction =
        count == 1 ? machine[0].airborne_fraction : airborne_ml_per_s / hazer->fluid_ml_per_s;
    for (size_t r = 0; r < reader->scene->room_count; r++) {
        if (share[r] > most) {
            most = share[r];
            hazer->room = r;
        }
        share[r] /= airborne_ml_per_s;
    }
    hazer->share = listed ? share : NULL;
    hazer->machine = machine;
    hazer->machine_count = count;
}

/* One machine, or an array of them. */
static void read_hazer(vs_scene_reader *reader) {
    vs_scene_hazer *hazer = &reader->scene->hazer;
    vs_json_value value = vs_json_get(&reader->root, "hazer");
    hazer->room = VS_NONE;
    if (!vs_json_exists(&value)) {
        return;
    }
    bool several = vs_json_is_array(&value);
    if (several && !vs_json_check_array(&value, 1, VS_SCENE_HAZERS_MAX, "hazers")) {
        return;
    }
    size_t count = several ? vs_json_count(&value) : 1;
    vs_scene_machine *machine = vs_scene_new(reader, count, sizeof *machine);
    hazer->burst_max_s = INFINITY;
    for (size_t i = 0; machine && i < count; i++) {
        vs_json_value one = several ? vs_json_at(&value, i) : value;
        read_machine(reader, &one, &machine[i]);
    }
    if (machine) {
        join_machines(reader, machine, count, several);
    }
}

static void read_indirect(vs_scene_reader *reader) {
    static const vs_json_range nits = {0, 1e6, false, false};
    vs_json_value value = vs_json_get(&reader->root, "indirect");
    vs_scene *scene = reader->scene;
    scene->indirect = VS_INDIRECT_COMPUTED;
    scene->indirect_nits = NAN;
    if (vs_json_is_object(&value)) {
        scene->indirect = VS_INDIRECT_NITS;
        vs_scene_check_keys(&value, VS_KEYS_INDIRECT, VS_KIND_UNKNOWN);
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
