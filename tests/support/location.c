/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "location.h"

#include <math.h>
#include <stdio.h>

#include "check.h"

const char *const location_kind_name[LOCATION_KINDS] = {
    [LOCATION_MIXED] = "mixed",           [LOCATION_NEAR_BEAM] = "near beam",
    [LOCATION_HOT_SPOT] = "hot spot",     [LOCATION_NEAR_WALL] = "near wall",
    [LOCATION_DARK_POINT] = "dark point", [LOCATION_THROUGH_DOOR] = "through a door",
};

typedef struct {
    random_stream r;
    location_kind kind;
    vs_text *text;
    double size[2][3]; /* of the rooms; the second stands at the first one's east wall */
    size_t rooms;
    bool window;
    bool has_spot; /* one that feeds nothing yet */
    size_t spot;
    double spot_at[3], spot_aim[3];
    double focus[3]; /* where the light that the kind is about can be seen best */
} location;

typedef enum { LAMP, SPOT, PANEL, TUBE, SUN, SKY, FED, KINDS } kind;

/* ---- draws: one per call, because the compiler chooses the order of a call's arguments ---- */

static double between(location *l, double low, double high) {
    return floor(1000 * random_uniform(&l->r, low, high) + 0.5) / 1000;
}

static bool chance(location *l, double share) {
    return random_uniform(&l->r, 0, 1) < share;
}

static void draw_place(location *l, size_t room, double p[3]) {
    for (int i = 0; i < 3; i++) {
        p[i] = (room == 1 && i == 0 ? l->size[0][0] : 0) + between(l, 0.2, l->size[room][i] - 0.2);
    }
}

/* ---- members of an object, each with a comma before it ---- */

static void add_drawn(location *l, const char *key, double low, double high) {
    vs_text_addf(l->text, ",\"%s\":%g", key, between(l, low, high));
}

static void add_triple(location *l, const char *key, const double p[3]) {
    vs_text_addf(l->text, ",\"%s\":[%g,%g,%g]", key, p[0], p[1], p[2]);
}

static void add_size(location *l, double low) {
    double width = between(l, low, 1.2), height = between(l, low, 1.2);
    vs_text_addf(l->text, ",\"size\":[%g,%g]", width, height);
}

static void add_place_and_aim(location *l, size_t room, double at[3], double aim[3]) {
    draw_place(l, room, at);
    draw_place(l, room, aim);
    add_triple(l, "at", at);
    add_triple(l, "aim", aim);
}

static void add_direction(location *l, const char *key, const double low[3], const double high[3]) {
    double d[3];
    for (int i = 0; i < 3; i++) {
        d[i] = between(l, low[i], high[i]);
    }
    add_triple(l, key, d);
}

/* ---- the parts of the file ---- */

/* Measured in one location out of four, else droplets by Mie theory. */
static void add_fluid(location *l) {
    static const char *const droplets[] = {"glycol", "glycol-fine", "oil-coarse"};
    size_t fluid = random_index(&l->r, 4);
    if (fluid < 3) {
        vs_text_addf(l->text, ",\"fluid\":\"%s\"", droplets[fluid]);
        return;
    }
    vs_text_addf(l->text, ",\"fluid\":{\"extinction_m2_per_g\":4");
    add_drawn(l, "g", 0.5, 0.85);
    vs_text_addf(l->text, "}");
}

/* One for all faces in a mixed location, else one a face: black cloth to white paint. */
static void add_reflectances(location *l) {
    static const char *const face[] = {"north", "south", "east", "west", "floor", "ceiling"};
    double most = l->kind == LOCATION_DARK_POINT ? 0.15 : 0.9;
    if (l->kind == LOCATION_MIXED) {
        add_drawn(l, "reflectance", 0, 0.85);
        return;
    }
    double walls = between(l, 0.02, most);
    vs_text_addf(l->text, ",\"reflectance\":{\"walls\":%g", walls);
    for (size_t i = 0; i < 6; i++) {
        if (chance(l, 0.4)) {
            add_drawn(l, face[i], 0.02, most);
        }
    }
    vs_text_addf(l->text, "}");
}

static void add_rooms(location *l) {
    l->window = l->kind == LOCATION_MIXED && chance(l, 0.7);
    vs_text_addf(l->text, ",\"rooms\":[");
    for (size_t r = 0; r < l->rooms; r++) {
        l->size[r][0] = between(l, 3, 9);
        l->size[r][1] = between(l, 2.5, 6);
        l->size[r][2] = between(l, 2.3, 5);
        vs_text_addf(l->text, "%s{\"name\":\"%s\",\"corner\":[%g,0,0]", r ? "," : "",
                     r ? "passage" : "cellar", r ? l->size[0][0] : 0);
        add_triple(l, "size", l->size[r]);
        add_reflectances(l);
        vs_text_addf(l->text, "}");
    }
    vs_text_addf(l->text, "]");
}

static void add_openings(location *l) {
    vs_text_addf(l->text, ",\"openings\":[");
    if (l->rooms == 2) {
        double from = between(l, 0.2, fmin(l->size[0][1], l->size[1][1]) - 1.2);
        double width = between(l, 0.6, 1), height = between(l, 1.6, 2.1);
        vs_text_addf(l->text,
                     "{\"name\":\"door\",\"rooms\":[\"cellar\",\"passage\"],\"corners\":"
                     "[[%g,%g,0],[%g,%g,%g]]}%s",
                     l->size[0][0], from, l->size[0][0], from + width, height,
                     l->window ? "," : "");
    }
    if (l->window) {
        double from = between(l, 0.3, l->size[0][0] - 1.5);
        vs_text_addf(l->text,
                     "{\"name\":\"hatch\",\"rooms\":[\"cellar\",\"outside\"],\"corners\":"
                     "[[%g,0,0.8],[%g,0,1.9]]",
                     from, from + 1);
        add_drawn(l, "transmittance", 0.5, 1);
        vs_text_addf(l->text, "}");
    }
    vs_text_addf(l->text, "]");
}

static void add_blockers(location *l) {
    size_t count = l->kind == LOCATION_MIXED        ? random_index(&l->r, 4)
                   : l->kind == LOCATION_DARK_POINT ? 1 + random_index(&l->r, 2)
                                                    : 0;
    vs_text_addf(l->text, ",\"blockers\":[");
    for (size_t i = 0; i < count; i++) {
        double at[3], aim[3];
        vs_text_addf(l->text, "%s{\"name\":\"board %zu\"", i ? "," : "", i);
        add_place_and_aim(l, 0, at, aim);
        add_size(l, 0.2);
        if (chance(l, 0.4)) {
            add_drawn(l, "transmittance", 0.2, 0.8);
        } else {
            add_drawn(l, "reflectance", 0, 0.6);
        }
        vs_text_addf(l->text, "}");
    }
    vs_text_addf(l->text, "]");
}

static void add_outdoors(location *l, kind k) {
    static const double low[] = {-0.7, 0.3, -1}, high[] = {0.7, 1, -0.2};
    vs_text_addf(l->text, ",\"kind\":\"%s\",\"through\":\"hatch\"", k == SUN ? "sun" : "sky");
    if (k == SKY) {
        add_drawn(l, "nits", 500, 6000);
        return;
    }
    add_direction(l, "direction", low, high);
    add_drawn(l, "lux", 5000, 60000);
}

/* A diffusion frame square to the spot that feeds it, where that aims. */
static void add_frame(location *l) {
    double beyond[3];
    for (int i = 0; i < 3; i++) {
        beyond[i] = 2 * l->spot_aim[i] - l->spot_at[i];
    }
    vs_text_addf(l->text, ",\"kind\":\"panel\"");
    add_triple(l, "at", l->spot_aim);
    add_triple(l, "aim", beyond);
    add_size(l, 0.4);
    vs_text_addf(l->text, ",\"fed_by\":{\"light\":\"light %zu\"", l->spot);
    add_drawn(l, "transmittance", 0.2, 0.6);
    vs_text_addf(l->text, "}");
    l->has_spot = false;
}

static void add_spot(location *l, size_t index, size_t room) {
    vs_text_addf(l->text, ",\"kind\":\"spot\"");
    add_place_and_aim(l, room, l->spot_at, l->spot_aim);
    add_drawn(l, "beam_deg", 4, 30);
    add_drawn(l, "field_deg", 31, 70);
    add_drawn(l, "candela", 500, 9000);
    l->has_spot = true;
    l->spot = index;
}

static void add_inside(location *l, kind k, size_t room) {
    static const char *const name[] = {[LAMP] = "lamp", [PANEL] = "panel", [TUBE] = "tube"};
    double at[3], aim[3];
    vs_text_addf(l->text, ",\"kind\":\"%s\"", name[k]);
    if (k == PANEL) {
        add_place_and_aim(l, room, at, aim);
        add_size(l, 0.2);
    } else {
        draw_place(l, room, at);
        add_triple(l, k == TUBE ? "from" : "at", at);
    }
    if (k == TUBE) {
        draw_place(l, room, aim);
        add_triple(l, "to", aim);
    }
    add_drawn(l, "lumens", 200, 4000);
}

static void add_light(location *l, size_t index) {
    kind k = (kind)random_index(&l->r, KINDS);
    size_t room = random_index(&l->r, l->rooms);
    vs_text_addf(l->text, "%s{\"name\":\"light %zu\"", index ? "," : "", index);
    if ((k == SUN || k == SKY) && l->window) {
        add_outdoors(l, k);
    } else if (k == FED && l->has_spot) {
        add_frame(l);
    } else if (k == SPOT || k == FED) {
        add_spot(l, index, room);
    } else {
        add_inside(l, k == SUN || k == SKY ? LAMP : k, room);
    }
    vs_text_addf(l->text, "}");
}

/* A spot with a narrow beam. */
static void add_narrow_spot(location *l, const double at[3], const double aim[3]) {
    vs_text_addf(l->text, "{\"name\":\"torch\",\"kind\":\"spot\"");
    add_triple(l, "at", at);
    add_triple(l, "aim", aim);
    add_drawn(l, "beam_deg", 3, 14);
    add_drawn(l, "field_deg", 15, 30);
    add_drawn(l, "candela", 1000, 20000);
    vs_text_addf(l->text, "}");
}

/* A place on the wall x = 0, and one at `off` metres before it. */
static void draw_at_wall(location *l, double off_m, double wall[3], double before[3]) {
    draw_place(l, 0, wall);
    wall[0] = 0;
    for (int i = 0; i < 3; i++) {
        before[i] = wall[i];
    }
    before[0] = off_m;
}

static void copy_place(const double from[3], double to[3]) {
    for (int i = 0; i < 3; i++) {
        to[i] = from[i];
    }
}

/* The light that a location's kind is about; l->focus is where to look. */
static void add_subject(location *l) {
    double at[3], aim[3];
    switch (l->kind) {
    case LOCATION_NEAR_BEAM:
        draw_place(l, 0, at);
        draw_place(l, 0, aim);
        add_narrow_spot(l, at, aim);
        for (int i = 0; i < 3; i++) {
            double mid = at[i] + (aim[i] - at[i]) * 0.6, off = between(l, -0.4, 0.4);
            l->focus[i] = floor(1000 * fmin(fmax(mid + off, 0.1), l->size[0][i] - 0.1)) / 1000;
        }
        return;
    case LOCATION_HOT_SPOT:
        draw_at_wall(l, between(l, 0.3, fmin(3, l->size[0][0] - 0.3)), l->focus, at);
        copy_place(l->focus, aim);
        at[2] = between(l, 0.3, l->size[0][2] - 0.3);
        add_narrow_spot(l, at, aim);
        return;
    case LOCATION_NEAR_WALL:
        draw_at_wall(l, between(l, 0.08, 0.4), l->focus, at);
        vs_text_addf(l->text, "{\"name\":\"bulb\",\"kind\":\"lamp\"");
        add_triple(l, "at", at);
        add_drawn(l, "lumens", 300, 3000);
        vs_text_addf(l->text, "}");
        return;
    default:
        add_light(l, 0);
        draw_place(l, l->rooms - 1, l->focus);
    }
}

static void add_lights(location *l) {
    size_t count =
        l->kind == LOCATION_MIXED ? 1 + random_index(&l->r, 6) : 1 + random_index(&l->r, 3);
    vs_text_addf(l->text, ",\"lights\":[");
    add_subject(l);
    for (size_t i = 1; i < count; i++) {
        add_light(l, i);
    }
    vs_text_addf(l->text, "]");
}

static void add_camera(location *l) {
    double at[3], aim[3];
    draw_place(l, l->kind == LOCATION_THROUGH_DOOR ? l->rooms - 1 : 0, at);
    draw_place(l, l->kind == LOCATION_THROUGH_DOOR ? 0 : l->rooms - 1, aim);
    vs_text_addf(l->text, ",\"cameras\":[{\"name\":\"A\"");
    add_triple(l, "at", at);
    add_triple(l, "aim", aim);
    vs_text_addf(l->text, ",\"focal_mm\":25,\"t_stop\":2.8,\"iso\":800}]");
}

/* A point of the shot: near what the location is about, or anywhere. */
static void add_point(location *l, size_t index) {
    static const double low[] = {-1, -1, -1}, high[] = {1, 1, 1};
    bool subject = index == 0 && l->kind != LOCATION_MIXED && l->kind != LOCATION_THROUGH_DOOR;
    bool on_wall = subject && (l->kind == LOCATION_HOT_SPOT || l->kind == LOCATION_NEAR_WALL);
    double at[3];
    draw_place(l, l->kind == LOCATION_THROUGH_DOOR ? 0 : random_index(&l->r, l->rooms), at);
    copy_place(subject ? l->focus : at, at);
    if (on_wall && chance(l, 0.5)) { /* beside it */
        at[1] =
            floor(1000 * fmin(fmax(at[1] + between(l, -0.5, 0.5), 0.05), l->size[0][1] - 0.05)) /
            1000;
    }
    vs_text_addf(l->text, "%s{\"name\":\"%zu\"", index ? "," : "", index);
    add_triple(l, "at", at);
    if (on_wall) {
        static const double inward[] = {1, 0, 0};
        add_drawn(l, "reflectance", 0.02, 0.8);
        add_triple(l, "facing", inward);
    } else if (l->kind == LOCATION_DARK_POINT) {
        add_drawn(l, "reflectance", 0.01, 0.05);
        add_direction(l, "facing", low, high);
    } else if (chance(l, 0.6)) {
        add_drawn(l, "nits", 0.1, 20);
    } else {
        add_drawn(l, "reflectance", 0.05, 0.8);
        add_direction(l, "facing", low, high);
    }
    vs_text_addf(l->text, "}");
}

static void add_shot(location *l) {
    size_t count = 1 + random_index(&l->r, 3);
    vs_text_addf(l->text, ",\"shots\":[{\"name\":\"1\",\"camera\":\"A\"");
    if (l->rooms == 2 && chance(l, 0.2)) {
        double cellar = between(l, 0.01, 0.12), passage = between(l, 0.01, 0.12);
        vs_text_addf(l->text, ",\"extinction_per_m\":{\"cellar\":%g,\"passage\":%g}", cellar,
                     passage);
    } else {
        add_drawn(l, "extinction_per_m", 0.01, 0.12);
    }
    vs_text_addf(l->text, ",\"points\":[");
    for (size_t i = 0; i < count; i++) {
        add_point(l, i);
    }
    vs_text_addf(l->text, "]}]");
}

location_kind location_kind_of(uint64_t seed, size_t rooms) {
    size_t kinds = rooms == 2 ? LOCATION_KINDS : LOCATION_KINDS - 1; /* no door in one room */
    return (location_kind)(seed % kinds);
}

void location_write(uint64_t seed, size_t rooms, vs_text *text) {
    location l = {.r = {seed}, .kind = location_kind_of(seed, rooms), .rooms = rooms, .text = text};
    vs_text_init(text);
    vs_text_addf(text, "{\"veilstop\":1,\"lengths\":\"m\",\"indirect\":\"computed\"");
    add_fluid(&l);
    add_rooms(&l);
    add_openings(&l);
    add_blockers(&l);
    add_lights(&l);
    add_camera(&l);
    add_shot(&l);
    vs_text_addf(text, "}\n");
    CHECK_TRUE(!text->failed);
}

void location_read(uint64_t seed, size_t rooms, vs_scene_file *file) {
    vs_text text;
    vs_faults faults = {0};
    location_write(seed, rooms, &text);
    vs_status status = vs_scene_file_init(file, text.bytes, text.length, NULL, &faults);
    if (status != VS_OK) {
        fprintf(stderr, "seed %llu: %s %s\n", (unsigned long long)seed, faults.item[0].where,
                faults.item[0].text);
    }
    CHECK_OK(status);
    vs_text_free(&text);
}
