/* Every view at many sizes, as a sum over all its cells: characters, roles, attributes. A layout
 * that moves by one cell at one size is noticed here; what views look like is kept as text by the
 * tests beside it. Where a picture was changed on purpose, `make golden` writes the sums again: the
 * difference then names the views and sizes that changed, and those are looked at. */
#include "screen/scene.h"

#include "support/golden.h"

/* FNV-1a. */
static uint64_t add(uint64_t sum, uint64_t v)
{
    for (int i = 0; i < 8; i++, v >>= 8)
        sum = (sum ^ (v & 0xFF)) * UINT64_C(1099511628211);
    return sum;
}

static uint64_t sum_of(const struct grid *g)
{
    uint64_t sum = UINT64_C(14695981039346656037);

    for (int i = 0; i < g->cols * g->rows; i++) {
        const struct cell *c = &g->cells[i];

        sum = add(sum, (uint64_t)c->ch << 32 | (uint64_t)c->role << 16 | (uint64_t)c->attr << 8 |
                           c->width);
        sum = add(sum, (uint64_t)c->mark[0] << 32 | c->mark[1]);
    }
    return sum;
}

static void one(struct scene *s)
{
    scene_calm(s, 1);
}

static void trouble_two(struct scene *s)
{
    scene_trouble(s, 2);
}

static void four(struct scene *s)
{
    scene_trouble(s, 4);
}

static void many_alerts(struct scene *s)
{
    scene_trouble(s, 2);
    s->m->alert_count = 0;
    scene_many_alerts(s);
}

static const struct {
    const char *name;
    void (*make)(struct scene *s);
} scenes[] = {{"calm, one engine", one},  {"trouble, two", trouble_two},
              {"trouble, four", four},    {"everything", scene_full},
              {"sailing", scene_sailing}, {"many alerts", many_alerts}};

/* A line for each view and width: the sums of all heights. */
static void put_view(FILE *out, struct scene *s, int view)
{
    static const int cols[] = {20, 24, 25,  30,  39,  48,  57,  66, 79,
                               80, 93, 100, 119, 120, 140, 161, 200};
    static const int rows[] = {5, 6, 7, 9, 12, 16, 19, 22, 24, 28, 29, 33, 40, 50, 60};

    for (size_t i = 0; i < sizeof cols / sizeof cols[0]; i++) {
        uint64_t sum = 0;

        for (size_t k = 0; k < sizeof rows / sizeof rows[0]; k++) {
            struct grid g;

            s->ui.view = (enum view_id)view;
            s->ui.cols = cols[i];
            s->ui.rows = rows[k];
            assert_true(grid_init(&g, cols[i], rows[k], k % 5 == 4));
            g.blocks = k % 5 == 3;
            model_settle(s->m, true);
            ui_draw(&g, s->m, &s->ui);
            sum = add(sum, sum_of(&g));
            grid_fini(&g);
        }
        fprintf(out, "  %s, %d columns: %016llx\n", views[view].name, cols[i],
                (unsigned long long)sum);
    }
}

static void every_view__at_many_sizes__has_its_sum(void **state)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);

    (void)state;
    assert_non_null(out);
    for (size_t i = 0; i < sizeof scenes / sizeof scenes[0]; i++)
        for (int view = 0; view < VIEW_COUNT; view++) {
            struct scene s;

            if (view == 0)
                fprintf(out, "%s\n", scenes[i].name);
            scenes[i].make(&s);
            put_view(out, &s, view);
            scene_free(&s);
        }
    fclose(out);
    golden_check("screen", "sums", text);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_view__at_many_sizes__has_its_sum),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
