/**
 * A small importer of co-simulation units (FMI 3.0) in C: loads a shared library, does what its standard input says and tells
 * what came back. It declares the interface by itself, from the standard's text, and knows nothing of what we emit.
 */

/**
 * Lines: `new I TOKEN`, `free I`, `begin I START STOP` (STOP 0: none), `ready I`, `step I T H`, `end I`, `reset I`,
 * `get I TYPE REFERENCE N`, `set I TYPE REFERENCE N HEX…`, `keep I`, `back I`, `bytes I` (state to bytes and back into it).
 * Answers: the status as a number, and after `get` the patterns in hexadecimal, after `step` the time reached.
 */
export const importer = `#define _POSIX_C_SOURCE 200809L
#include <dlfcn.h>
#include <inttypes.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef void *unit;
typedef int (*plain_f)(unit);
typedef int (*get_f)(unit, const uint32_t[], size_t, void *, size_t);
typedef int (*set_f)(unit, const uint32_t[], size_t, const void *, size_t);
typedef unit (*new_f)(const char *, const char *, const char *, bool, bool, bool, bool, const uint32_t[], size_t, void *,
                      void (*)(void *, int, const char *, const char *), void *);
typedef int (*begin_f)(unit, bool, double, double, bool, double);
typedef int (*step_f)(unit, double, double, bool, bool *, bool *, bool *, double *);
typedef int (*state_f)(unit, void **);
typedef int (*set_state_f)(unit, void *);
typedef int (*size_f)(unit, void *, size_t *);
typedef int (*to_bytes_f)(unit, void *, uint8_t[], size_t);
typedef int (*of_bytes_f)(unit, const uint8_t[], size_t, void **);

static void *library;

/* A function by its name; ISO C has no conversion from an object's pointer, POSIX copies it. */
#define FUNCTION(type, name, variable)                     \\
    type variable = NULL;                                  \\
    do {                                                   \\
        void *found = dlsym(library, name);                \\
        if (found == NULL) {                               \\
            fprintf(stderr, "%s is missing\\n", name);     \\
            exit(3);                                       \\
        }                                                  \\
        memcpy(&variable, &found, sizeof variable);        \\
    } while (0)

static void heard(void *environment, int status, const char *category, const char *message)
{
    (void)environment;
    fprintf(stderr, "%d %s: %s\\n", status, category, message);
}

static int plain(const char *name, unit one)
{
    FUNCTION(plain_f, name, f);
    return f(one);
}

static size_t width(const char *type)
{
    if (strcmp(type, "Boolean") == 0) return sizeof(bool);
    return (strcmp(type, "Float64") == 0) ? 8U : 4U;
}

int main(int argc, char **argv)
{
    static unit units[4];
    static void *kept[4];
    static char line[1 << 16];
    if (argc != 2 || (library = dlopen(argv[1], RTLD_NOW | RTLD_LOCAL)) == NULL) {
        fprintf(stderr, "%s\\n", argc == 2 ? dlerror() : "one argument");
        return 2;
    }
    while (fgets(line, sizeof line, stdin) != NULL) {
        char *rest = line;
        const char *const verb = strtok_r(rest, " \\n", &rest);
        const int i = atoi(strtok_r(NULL, " \\n", &rest));
        if (strcmp(verb, "new") == 0) {
            FUNCTION(new_f, "fmi3InstantiateCoSimulation", f);
            units[i] = f("one", strtok_r(NULL, "\\n", &rest), NULL, false, true, false, false, NULL, 0U, NULL, heard, NULL);
            printf("%d\\n", units[i] == NULL ? 3 : 0);
        } else if (strcmp(verb, "free") == 0) {
            void (*f)(unit) = NULL;
            void *found = dlsym(library, "fmi3FreeInstance");
            memcpy(&f, &found, sizeof f);
            f(units[i]);
            printf("0\\n");
        } else if (strcmp(verb, "begin") == 0) {
            FUNCTION(begin_f, "fmi3EnterInitializationMode", f);
            const double start = strtod(strtok_r(NULL, " \\n", &rest), NULL);
            const double stop = strtod(strtok_r(NULL, " \\n", &rest), NULL);
            printf("%d\\n", f(units[i], false, 0.0, start, stop != 0.0, stop));
        } else if (strcmp(verb, "ready") == 0) {
            printf("%d\\n", plain("fmi3ExitInitializationMode", units[i]));
        } else if (strcmp(verb, "end") == 0) {
            printf("%d\\n", plain("fmi3Terminate", units[i]));
        } else if (strcmp(verb, "reset") == 0) {
            printf("%d\\n", plain("fmi3Reset", units[i]));
        } else if (strcmp(verb, "step") == 0) {
            FUNCTION(step_f, "fmi3DoStep", f);
            const double at = strtod(strtok_r(NULL, " \\n", &rest), NULL);
            const double by = strtod(strtok_r(NULL, " \\n", &rest), NULL);
            bool events = true, over = true, early = true;
            double reached = -1.0;
            const int status = f(units[i], at, by, true, &events, &over, &early, &reached);
            printf("%d %.17g%s\\n", status, reached, (events || over || early) ? " flags" : "");
        } else if (strcmp(verb, "get") == 0 || strcmp(verb, "set") == 0) {
            static uint8_t values[1 << 14];
            char name[64];
            const char *const type = strtok_r(NULL, " \\n", &rest);
            const uint32_t reference = (uint32_t)strtoul(strtok_r(NULL, " \\n", &rest), NULL, 10);
            const size_t n = strtoul(strtok_r(NULL, " \\n", &rest), NULL, 10);
            const size_t size = width(type);
            snprintf(name, sizeof name, "fmi3%s%s", verb[0] == 'g' ? "Get" : "Set", type);
            if (verb[0] == 's') {
                for (size_t k = 0U; k < n; k++) {
                    const uint64_t bits = strtoull(strtok_r(NULL, " \\n", &rest), NULL, 16);
                    memcpy(&values[k * size], &bits, size);
                }
                FUNCTION(set_f, name, f);
                printf("%d\\n", f(units[i], &reference, 1U, values, n));
            } else {
                FUNCTION(get_f, name, f);
                printf("%d", f(units[i], &reference, 1U, values, n));
                for (size_t k = 0U; k < n; k++) {
                    uint64_t bits = 0U;
                    memcpy(&bits, &values[k * size], size);
                    printf(" %" PRIx64, bits);
                }
                printf("\\n");
            }
        } else if (strcmp(verb, "keep") == 0) {
            FUNCTION(state_f, "fmi3GetFMUState", f);
            printf("%d\\n", f(units[i], &kept[i]));
        } else if (strcmp(verb, "back") == 0) {
            FUNCTION(set_state_f, "fmi3SetFMUState", f);
            printf("%d\\n", f(units[i], kept[i]));
        } else if (strcmp(verb, "bytes") == 0) {
            FUNCTION(size_f, "fmi3SerializedFMUStateSize", size_of);
            FUNCTION(to_bytes_f, "fmi3SerializeFMUState", to_bytes);
            FUNCTION(of_bytes_f, "fmi3DeserializeFMUState", of_bytes);
            FUNCTION(state_f, "fmi3FreeFMUState", forget);
            size_t size = 0U;
            int status = size_of(units[i], kept[i], &size);
            uint8_t *const bytes = malloc(size);
            status += to_bytes(units[i], kept[i], bytes, size);
            status += forget(units[i], &kept[i]);
            status += of_bytes(units[i], bytes, size, &kept[i]);
            free(bytes);
            printf("%d %zu\\n", status, size);
        } else {
            fprintf(stderr, "what is %s\\n", verb);
            return 2;
        }
    }
    return 0;
}
`;
