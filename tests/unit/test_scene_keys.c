/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The reader, docs/scene.md and docs/scene.schema.json know the same keys, every_key.json uses each
 * of them, and each is really read: a wrong type in its place is a fault there. */
#include "check.h"

#include <cjson/cJSON.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "scene/keys.h"
#include "veilstop/scene/scene_file.h"

static bool in_list(const vs_scene_key_list *list, const char *key) {
    for (size_t i = 0; i < list->count; i++) {
        if (strcmp(list->key[i], key) == 0) {
            return true;
        }
    }
    return false;
}

static void the_schema_has_the_same_keys(void **state) {
    (void)state;
    char *text = tests_file("../docs/scene.schema.json", NULL);
    cJSON *schema = cJSON_Parse(text);
    assert_non_null(schema);
    for (size_t i = 0; i < VS_KEYS_COUNT; i++) {
        const vs_scene_key_list *list = &vs_scene_keys[i];
        const cJSON *definition = cJSON_GetObjectItemCaseSensitive(
            cJSON_GetObjectItemCaseSensitive(schema, "$defs"), list->name);
        const cJSON *properties = cJSON_GetObjectItemCaseSensitive(definition, "properties");
        assert_non_null(properties);
        CHECK_TRUE((size_t)cJSON_GetArraySize(properties) == list->count);
        for (const cJSON *p = properties->child; p; p = p->next) {
            if (!in_list(list, p->string)) {
                fail_msg("%s: the reader knows no %s", list->name, p->string);
            }
        }
    }
    cJSON_Delete(schema);
    free(text);
}

/* The keys in the first column of the table after "<!-- keys: NAME -->", each in back quotes. */
static size_t check_table(const char *document, const vs_scene_key_list *list) {
    char marker[64];
    snprintf(marker, sizeof marker, "<!-- keys: %s -->\n", list->name);
    const char *row = strstr(document, marker);
    size_t found = 0;
    if (!row) {
        fail_msg("docs/scene.md has no table of %s", list->name);
    }
    for (row += strlen(marker); *row == '|'; row = strchr(row, '\n') + 1) {
        const char *end = strchr(row + 1, '|');
        for (const char *at = strchr(row, '`'); at && at < end; at = strchr(at, '`')) {
            char key[64] = "";
            size_t length = strcspn(at + 1, "`");
            CHECK_TRUE(length < sizeof key);
            memcpy(key, at + 1, length);
            if (!in_list(list, key)) {
                fail_msg("docs/scene.md, %s: the reader knows no %s", list->name, key);
            }
            found++;
            at += length + 2;
        }
    }
    return found;
}

static void the_document_has_the_same_keys(void **state) {
    (void)state;
    char *text = tests_file("../docs/scene.md", NULL);
    for (size_t i = 0; i < VS_KEYS_COUNT; i++) {
        size_t found = check_table(text, &vs_scene_keys[i]);
        if (found != vs_scene_keys[i].count) {
            fail_msg("docs/scene.md, %s: %zu keys of %zu", vs_scene_keys[i].name, found,
                     vs_scene_keys[i].count);
        }
    }
    free(text);
}

/* The kind of object at a key (or in the array there). */
static const struct {
    const char *key;
    vs_scene_object object;
} place[] = {{"rooms", VS_KEYS_ROOM},
             {"openings", VS_KEYS_OPENING},
             {"blockers", VS_KEYS_BLOCKER},
             {"figures", VS_KEYS_FIGURE},
             {"hazer", VS_KEYS_HAZER},
             {"indirect", VS_KEYS_INDIRECT},
             {"lights", VS_KEYS_LIGHT},
             {"fed_by", VS_KEYS_FED_BY},
             {"sun", VS_KEYS_SUN},
             {"cameras", VS_KEYS_CAMERA},
             {"curve", VS_KEYS_CURVE},
             {"log", VS_KEYS_LOG},
             {"shots", VS_KEYS_SHOT},
             {"takes", VS_KEYS_TAKES},
             {"points", VS_KEYS_POINT},
             {"wants", VS_KEYS_WANT},
             {"readings", VS_KEYS_READING},
             {"clear", VS_KEYS_PATCHES},
             {"hazed", VS_KEYS_PATCHES},
             {"venue", VS_KEYS_VENUE},
             {"detectors", VS_KEYS_DETECTOR},
             {"people", VS_KEYS_PERSON},
             {"reflectance", VS_KEYS_REFLECTANCE}};

static void count_keys(const cJSON *item, vs_scene_object object, size_t *seen) {
    for (const cJSON *member = item->child; member; member = member->next) {
        vs_scene_object below = object;
        if (member->string) {
            for (size_t i = 0; i < vs_scene_keys[object].count; i++) {
                seen[object * 64 + i] += strcmp(vs_scene_keys[object].key[i], member->string) == 0;
            }
            below = VS_KEYS_COUNT;
            for (size_t i = 0; i < sizeof place / sizeof place[0]; i++) {
                below = strcmp(place[i].key, member->string) == 0 ? place[i].object : below;
            }
        }
        if (below < VS_KEYS_COUNT) {
            count_keys(member, below, seen);
        }
    }
}

static void the_example_uses_every_key(void **state) {
    (void)state;
    char *text = tests_file("cli/good/every_key.json", NULL);
    cJSON *scene = cJSON_Parse(text);
    assert_non_null(scene);
    static size_t seen[VS_KEYS_COUNT * 64];
    count_keys(scene, VS_KEYS_SCENE, seen);
    for (size_t i = 0; i < VS_KEYS_COUNT; i++) {
        for (size_t j = 0; j < vs_scene_keys[i].count; j++) {
            const char *key = vs_scene_keys[i].key[j];
            bool photometry = strcmp(key, "file") == 0 || strcmp(key, "roll_deg") == 0;
            if (seen[i * 64 + j] == 0 && !photometry) { /* not calculated yet, so refused */
                fail_msg("every_key.json has no %s in a %s", vs_scene_keys[i].key[j],
                         vs_scene_keys[i].name);
            }
        }
    }
    cJSON_Delete(scene);
    free(text);
}

/* Reads the scene as it is and expects a fault at `pointer`. */
static bool is_refused_at(const cJSON *scene, const char *pointer) {
    char *text = cJSON_PrintUnformatted(scene);
    vs_scene_file file;
    vs_faults faults = {0};
    vs_status status = vs_scene_file_init(&file, text, strlen(text), NULL, &faults);
    bool found = false;
    for (size_t i = 0; i < faults.count; i++) {
        found = found || strcmp(faults.item[i].where, pointer) == 0;
    }
    vs_scene_file_free(&file);
    cJSON_free(text);
    return status == VS_ERR_INPUT && found;
}

/* Replaces each value in turn by one of a type that no key accepts. */
static size_t spoil_each(cJSON *scene, cJSON *item, const char *pointer, size_t *missed) {
    size_t spoilt = 0, index = 0;
    for (cJSON *member = item->child; member; member = member->next, index++) {
        char at[512];
        const char *key = member->string;
        if (key && (strncmp(key, "note", 4) == 0 || key[0] == '/')) {
            continue; /* free text; /uncertain has its own bad files */
        }
        char number[24];
        snprintf(number, sizeof number, "%zu", index);
        snprintf(at, sizeof at, "%s/%s", pointer, key ? key : number);
        spoilt += spoil_each(scene, member, at, missed);
        int type = member->type;
        cJSON *child = member->child;
        bool is_bool = (type & 0xff) == cJSON_True || (type & 0xff) == cJSON_False;
        member->type = is_bool ? cJSON_NULL : cJSON_True;
        member->child = NULL;
        if (!is_refused_at(scene, at)) {
            print_error("a wrong type at %s was let through\n", at);
            (*missed)++;
        }
        member->type = type;
        member->child = child;
        spoilt++;
    }
    return spoilt;
}

static void every_value_is_read(void **state) {
    (void)state;
    char *text = tests_file("cli/good/every_key.json", NULL);
    cJSON *scene = cJSON_Parse(text);
    assert_non_null(scene);
    size_t missed = 0, spoilt = spoil_each(scene, scene, "", &missed);
    printf("measured: a wrong type in each of %zu places of a scene: %zu let through\n", spoilt,
           missed);
    CHECK_TRUE(missed == 0 && spoilt > 400);
    cJSON_Delete(scene);
    free(text);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_schema_has_the_same_keys),
        cmocka_unit_test(the_document_has_the_same_keys),
        cmocka_unit_test(the_example_uses_every_key),
        cmocka_unit_test(every_value_is_read),
    };
    return RUN_TESTS(tests);
}
