/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Scenes whose fluid, lamp and figures come from a list in memory: the same as from a folder. */
#include "check.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/scene/data.h"
#include "veilstop/scene/file_list.h"
#include "veilstop/scene/safety_file.h"
#include "veilstop/scene/scene_file.h"

static void files_are_those_of_the_list(void **state) {
    (void)state;
    static const vs_listed_file file[] = {{"a", "first", 5}, {"b", "", 0}};
    const vs_file_list list = {file, 2};
    vs_file_reader reader = vs_file_list_reader(&list);
    char *bytes;
    size_t length;
    CHECK_OK(vs_file_read_by(&reader, "a", 5, &bytes, &length));
    CHECK_TRUE(length == 5 && strcmp(bytes, "first") == 0);
    free(bytes);
    CHECK_OK(vs_file_read_by(&reader, "b", 5, &bytes, &length));
    CHECK_TRUE(length == 0 && bytes[0] == '\0');
    free(bytes);
    CHECK_STATUS(vs_file_read_by(&reader, "a", 4, &bytes, &length), VS_ERR_FILE);
    CHECK_TRUE(errno == EFBIG && !bytes);
    CHECK_STATUS(vs_file_read_by(&reader, "c", 5, &bytes, &length), VS_ERR_FILE);
    CHECK_TRUE(errno == ENOENT && !bytes && length == 0);
}

/* The demo's cellar, which names a measured lamp, with that lamp from the list. */
static void a_scene_reads_its_lamp_from_the_list(void **state) {
    (void)state;
    size_t scene_length, lamp_length;
    char *scene = tests_file("../data/demo/cellar.json", &scene_length);
    char *lamp = tests_file("../data/demo/bulkhead.ies", &lamp_length);
    char path[TESTS_PATH_SIZE];
    const vs_listed_file file[] = {{"./bulkhead.ies", lamp, lamp_length}};
    const vs_file_list list = {file, 1}, none = {file, 0};
    vs_file_reader reader = vs_file_list_reader(&list), nothing = vs_file_list_reader(&none);
    vs_scene_places places = {NULL, ".", &reader};
    vs_scene_file listed, from_disk;
    vs_faults faults = {0};
    tests_path(path, "../data/demo/cellar.json");
    CHECK_OK(vs_scene_file_init(&listed, scene, scene_length, &places, &faults));
    CHECK_OK(vs_scene_file_load(&from_disk, path, NULL, &faults));
    CHECK_TRUE(listed.scene.light_count == from_disk.scene.light_count);
    for (size_t i = 0; i < listed.scene.light_count; i++) {
        const vs_photometric_table *a = &listed.scene.light[i].table;
        const vs_photometric_table *b = &from_disk.scene.light[i].table;
        CHECK_TRUE(a->vertical_count == b->vertical_count);
        for (size_t k = 0; k < a->vertical_count * a->horizontal_count; k++) {
            CHECK_NEAR(a->candela[k], b->candela[k], 0, 0);
        }
    }
    vs_scene_file_free(&listed);
    vs_scene_file_free(&from_disk);
    places.reader = &nothing;
    CHECK_STATUS(vs_scene_file_init(&listed, scene, scene_length, &places, &faults), VS_ERR_FILE);
    CHECK_TRUE(faults.count == 1 && strstr(faults.item[0].where, "/file"));
    free(scene);
    free(lamp);
}

/* A fluid in the list takes precedence over the one compiled in; what the list lacks is compiled
 * in. */
static void data_files_come_from_the_list_first(void **state) {
    (void)state;
    const vs_listed_file file[] = {{"fluids/glycol.json", "mine", 4}};
    const vs_file_list list = {file, 1};
    vs_file_reader reader = vs_file_list_reader(&list);
    vs_data data;
    CHECK_OK(vs_data_init(&data, NULL, "fluids/glycol.json", &reader));
    CHECK_TRUE(strcmp(data.bytes, "mine") == 0);
    vs_data_free(&data);
    CHECK_OK(vs_data_init(&data, NULL, "fluids/oil.json", &reader));
    CHECK_TRUE(data.length > 100 && !data.path);
    vs_data_free(&data);
    vs_safety_file safety;
    vs_faults faults = {0};
    char *path;
    const vs_listed_file broken[] = {{"own/limits.json", "{", 1}};
    const vs_file_list bad = {broken, 1};
    reader = vs_file_list_reader(&bad);
    CHECK_STATUS(vs_safety_file_init(&safety, "own", &reader, &faults, &path), VS_ERR_INPUT);
    CHECK_TRUE(path && strcmp(path, "own/limits.json") == 0);
    free(path);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(files_are_those_of_the_list),
        cmocka_unit_test(a_scene_reads_its_lamp_from_the_list),
        cmocka_unit_test(data_files_come_from_the_list_first),
    };
    return RUN_TESTS(tests);
}
