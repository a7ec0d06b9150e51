#include "screen/ui.h"

#include "base/text.h"

#include "base/banned.h"

void ui_init(struct ui *ui)
{
    *ui = (struct ui){.cols = 80, .rows = 24, .view = VIEW_BOARD, .trend.span = 2};
    keys_init(&ui->keys);
}

void ui_open_trend(struct ui *ui, const char *key)
{
    ui->view = VIEW_TREND;
    ui->trend.count = 1;
    ui->trend.cursor_on = ui->trend.second_on = false;
    ui->trend.zoom_ns = 0;
    text_copy(ui->trend.keys[0], sizeof ui->trend.keys[0], key);
    text_copy(ui->chosen, sizeof ui->chosen, key);
}
