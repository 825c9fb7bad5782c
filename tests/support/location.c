#include "location.h"

#include <math.h>
#include <stdio.h>

#include "check.h"

typedef struct {
    random_stream r;
    vs_text *text;
    double size[2][3]; /* of the rooms; the second stands at the first one's east wall */
    size_t rooms;
    bool window;
    bool has_spot; /* one that feeds nothing yet */
    size_t spot;
    double spot_at[3], spot_aim[3];
} location;

typedef enum { LAMP, SPOT, PANEL, TUBE, SUN, SKY, FED, KINDS } kind;

/* ---- draws: one a call, for the order of a call's arguments is the compiler's ---- */

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

/* Measured in one location of four, else droplets by Mie theory. */
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

static void add_rooms(location *l) {
    l->rooms = chance(l, 0.6) ? 2 : 1;
    l->window = chance(l, 0.7);
    vs_text_addf(l->text, ",\"rooms\":[");
    for (size_t r = 0; r < l->rooms; r++) {
        l->size[r][0] = between(l, 3, 9);
        l->size[r][1] = between(l, 2.5, 6);
        l->size[r][2] = between(l, 2.3, 5);
        vs_text_addf(l->text, "%s{\"name\":\"%s\",\"corner\":[%g,0,0]", r ? "," : "",
                     r ? "passage" : "cellar", r ? l->size[0][0] : 0);
        add_triple(l, "size", l->size[r]);
        add_drawn(l, "reflectance", 0, 0.85);
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
    size_t count = random_index(&l->r, 4);
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

static void add_lights(location *l) {
    size_t count = 1 + random_index(&l->r, 6);
    vs_text_addf(l->text, ",\"lights\":[");
    for (size_t i = 0; i < count; i++) {
        add_light(l, i);
    }
    vs_text_addf(l->text, "]");
}

static void add_camera(location *l) {
    double at[3], aim[3];
    draw_place(l, 0, at);
    draw_place(l, l->rooms - 1, aim);
    vs_text_addf(l->text, ",\"cameras\":[{\"name\":\"A\"");
    add_triple(l, "at", at);
    add_triple(l, "aim", aim);
    vs_text_addf(l->text, ",\"focal_mm\":25,\"t_stop\":2.8,\"iso\":800}]");
}

static void add_points(location *l) {
    static const double low[] = {-1, -1, -1}, high[] = {1, 1, 1};
    size_t count = 1 + random_index(&l->r, 3);
    vs_text_addf(l->text, ",\"points\":[");
    for (size_t i = 0; i < count; i++) {
        double at[3];
        draw_place(l, random_index(&l->r, l->rooms), at);
        vs_text_addf(l->text, "%s{\"name\":\"%zu\"", i ? "," : "", i);
        add_triple(l, "at", at);
        if (chance(l, 0.6)) {
            add_drawn(l, "nits", 0.1, 20);
        } else {
            add_drawn(l, "reflectance", 0.05, 0.8);
            add_direction(l, "facing", low, high);
        }
        vs_text_addf(l->text, "}");
    }
    vs_text_addf(l->text, "]");
}

static void add_shot(location *l) {
    vs_text_addf(l->text, ",\"shots\":[{\"name\":\"1\",\"camera\":\"A\"");
    if (l->rooms == 2 && chance(l, 0.2)) {
        double cellar = between(l, 0.01, 0.12), passage = between(l, 0.01, 0.12);
        vs_text_addf(l->text, ",\"extinction_per_m\":{\"cellar\":%g,\"passage\":%g}", cellar,
                     passage);
    } else {
        add_drawn(l, "extinction_per_m", 0.01, 0.12);
    }
    add_points(l);
    vs_text_addf(l->text, "}]");
}

void location_write(uint64_t seed, vs_text *text) {
    location l = {.r = {seed}, .text = text};
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

void location_read(uint64_t seed, vs_scene_file *file) {
    vs_text text;
    vs_faults faults = {0};
    location_write(seed, &text);
    vs_status status = vs_scene_file_init(file, text.bytes, text.length, NULL, &faults);
    if (status != VS_OK) {
        fprintf(stderr, "seed %llu: %s %s\n", (unsigned long long)seed, faults.item[0].where,
                faults.item[0].text);
    }
    CHECK_OK(status);
    vs_text_free(&text);
}
