/* What a watch has to do besides: sizes as they are written, and what its loop waits for. */
#include "session/duties.h"

#include "config/config.h"
#include "support/check.h"
#include "support/program.h"

#include <poll.h>
#include <stdio.h>

static void size__with_and_without_its_unit(void **state)
{
    static const struct {
        const char *text;
        uint64_t bytes; /* 0: refused */
    } sizes[] = {
        {"500M", UINT64_C(500) << 20},
        {"4G", UINT64_C(4) << 30},
        {"4 G", UINT64_C(4) << 30},
        {"1M", UINT64_C(1) << 20},
        {"1000000G", UINT64_C(1000000) << 30},
        {"1000001M", 0},
        {"0G", 0},
        {"-5G", 0},
        {"", 0},
        {"M", 0},
        {"4X", 0},
        {"400", 0},
        {"G4", 0},
        {"00000000000000004G", 0}, /* longer than any size */
    };

    (void)state;
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
        uint64_t bytes = 0;

        if (duties_size(sizes[i].text, &bytes) != (sizes[i].bytes > 0))
            fail_msg("'%s'", sizes[i].text);
        if (sizes[i].bytes > 0)
            assert_true(bytes == sizes[i].bytes);
    }
}

/* The hooks, the desk, and the door where there is one; never more than there is room for. */
static void fds__each_is_open_and_none_is_too_many(void **state)
{
    struct config_messages *messages = NULL;
    struct settings *settings = config_load_text("t.conf", "", &messages);
    char path[200];

    (void)state;
    assert_non_null(settings);
    config_messages_free(messages);
    snprintf(path, sizeof path, "%s/door", program_scratch());
    for (int door = 0; door < 2; door++) {
        struct duties_options o = {.socket = door ? path : NULL, .no_hooks = true};
        struct err e = {""};
        struct duties *d = duties_open(&o, settings, "can0", &e);

        if (!d)
            fail_msg("%s", e.text);
        for (int max = 0; max < 8; max++) {
            struct pollfd p[8];
            int n = duties_fds(d, p, max), most = 2 + door;

            assert_int_equal(n, max < most ? max : most);
            for (int i = 0; i < n; i++)
                assert_true(p[i].events & POLLIN);
        }
        duties_close(d);
    }
    settings_free(settings);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(size__with_and_without_its_unit),
        cmocka_unit_test(fds__each_is_open_and_none_is_too_many),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
