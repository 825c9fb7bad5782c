/* Memory runs out at each allocation in turn while a scene is read, or a haze made: it is told, all
 * that was taken is given back, and nothing crashes. The address sanitizer and valgrind have
 * allocators of their own: there only the parser's allocations fail. */
#include "check.h"

#include <cjson/cJSON.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/optics/haze.h"
#include "veilstop/scene/safety_file.h"
#include "veilstop/scene/scene_file.h"

static long left = -1; /* allocations until one fails; below 0: none does */
static long alive;     /* blocks taken and not given back, while a failure is armed */

static bool fails(void) {
    return left >= 0 && left-- == 0;
}

#ifndef __SANITIZE_ADDRESS__
/* The C library lets a program put its own allocator in front of its. */
extern void *__libc_malloc(size_t size);
extern void *__libc_calloc(size_t count, size_t size);
extern void *__libc_realloc(void *block, size_t size);
extern void __libc_free(void *block);

#define SEEN __attribute__((visibility("default"))) /* by the libraries too */

SEEN void *malloc(size_t size) {
    void *block = fails() ? NULL : __libc_malloc(size);
    alive += block != NULL;
    return block;
}

SEEN void *calloc(size_t count, size_t size) {
    void *block = fails() ? NULL : __libc_calloc(count, size);
    alive += block != NULL;
    return block;
}

SEEN void *realloc(void *block, size_t size) {
    void *moved = fails() ? NULL : __libc_realloc(block, size);
    alive += moved != NULL && block == NULL;
    return moved;
}

SEEN void free(void *block) {
    alive -= block != NULL;
    __libc_free(block);
}
#endif

static void *failing_malloc(size_t size) {
    return fails() ? NULL : malloc(size);
}

/* Whether this process's allocations come through here, both ways. */
static bool is_counting(void) {
    long before = alive;
    void *volatile block = malloc(1);
    bool taken = alive == before + 1;
    free(block);
    return taken && alive == before;
}

static char *load(const char *name, size_t *length) {
    char path[1024];
    const char *tests = getenv("VS_TESTS");
    snprintf(path, sizeof path, "%s/%s", tests ? tests : "tests", name);
    char *bytes = file_read(path, length);
    assert_non_null(bytes);
    return bytes;
}

static void each_allocation_may_fail(void **state) {
    (void)state;
    cJSON_Hooks hooks = {failing_malloc, free};
    cJSON_InitHooks(&hooks);
    size_t length;
    char *bytes = load("cli/good/every_key.json", &length);
    char folder[1024];
    const char *tests = getenv("VS_TESTS");
    snprintf(folder, sizeof folder, "%s/cli/good", tests ? tests : "tests");
    vs_scene_places places = {.scene_directory = folder};
    vs_status status = VS_ERR_MEMORY;
    long failures = 0;
    bool counting = is_counting();
    while (status != VS_OK) {
        vs_scene_file file;
        vs_faults faults = {0};
        long before = alive;
        left = failures;
        status = vs_scene_file_init(&file, bytes, length, &places, &faults);
        left = -1;
        if (status != VS_OK) {
            CHECK_STATUS(status, VS_ERR_MEMORY);
            CHECK_TRUE(file.memory == NULL && (!counting || alive == before));
        }
        vs_scene_file_free(&file);
        CHECK_TRUE(!counting || alive == before);
        failures++;
        CHECK_TRUE(failures < 100000);
    }
    printf("measured: memory ran out at each of %ld allocations of a scene: told each time\n",
           failures - 1);
    CHECK_TRUE(failures > 100);
    free(bytes);
}

static void each_allocation_of_a_haze_may_fail(void **state) {
    (void)state;
    vs_fluid fluid = {.density_g_per_ml = 1,
                      .half_life_s = INFINITY,
                      .index = {VS_INDEX_CONSTANT, {1.45, 0, 0}, 0},
                      .median_m = 0.3e-6,
                      .gsd = 1.4};
    vs_status status = VS_ERR_MEMORY;
    long failures = 0;
    bool counting = is_counting();
    while (status != VS_OK && failures < 1000) {
        vs_haze haze;
        long before = alive;
        left = failures;
        status = vs_haze_init(&haze, &fluid);
        left = -1;
        if (status != VS_OK) {
            CHECK_STATUS(status, VS_ERR_MEMORY);
            CHECK_NAN(haze.extinction_m2_per_g.v[VS_BAND_GREEN]);
            CHECK_TRUE(!counting || alive == before);
        }
        vs_haze_free(&haze);
        CHECK_TRUE(!counting || alive == before);
        failures++;
    }
    CHECK_OK(status);
    CHECK_TRUE(!counting || failures > 20);
    printf("measured: memory ran out at each of %ld allocations of a haze: told each time\n",
           failures - 1);
}

static void each_allocation_of_the_cautions_figures_may_fail(void **state) {
    (void)state;
    vs_status status = VS_ERR_MEMORY;
    long failures = 0;
    bool counting = is_counting();
    while (status != VS_OK) {
        vs_safety_file file;
        vs_faults faults = {0};
        char *path;
        long before = alive;
        left = failures;
        status = vs_safety_file_init(&file, NULL, &faults, &path);
        left = -1;
        if (status != VS_OK) {
            CHECK_STATUS(status, VS_ERR_MEMORY);
            CHECK_TRUE(file.memory == NULL && path == NULL);
        }
        vs_safety_file_free(&file);
        CHECK_TRUE(!counting || alive == before);
        failures++;
        CHECK_TRUE(failures < 100000);
    }
    CHECK_TRUE(failures > 100);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_allocation_may_fail),
        cmocka_unit_test(each_allocation_of_a_haze_may_fail),
        cmocka_unit_test(each_allocation_of_the_cautions_figures_may_fail),
    };
    return RUN_TESTS(tests);
}
