#include "wire/catalogue.h"

#include "wire/catalogue_rows.h"

#include <assert.h>

#include "base/banned.h"

size_t catalogue_count(void)
{
    return catalogue_j1939_count + catalogue_iec_count;
}

const struct pgn_info *catalogue_row(size_t i)
{
    if (i < catalogue_j1939_count)
        return &catalogue_j1939[i];
    i -= catalogue_j1939_count;
    return i < catalogue_iec_count ? &catalogue_iec[i] : NULL;
}

const struct pgn_info *catalogue_find(uint32_t pgn)
{
    size_t low = 0, high = catalogue_count();
    while (low < high) {
        size_t mid = (low + high) / 2;
        if (catalogue_row(mid)->pgn < pgn)
            low = mid + 1;
        else
            high = mid;
    }
    const struct pgn_info *row = catalogue_row(low);
    return row != NULL && row->pgn == pgn ? row : NULL;
}

void catalogue_index_build(struct catalogue_index *x)
{
    *x = (struct catalogue_index){0};
    unsigned pages = 0; /* page 0 of row[] stays empty: it is where unknown PGNs land */
    for (size_t i = 0; i < catalogue_count(); i++) {
        uint32_t pgn = catalogue_row(i)->pgn;
        uint8_t *page = &x->page[pgn >> 8];
        if (*page == 0)
            *page = (uint8_t)++pages;
        assert(pages < CATALOGUE_PAGES);
        x->row[*page][pgn & 0xFF] = (uint8_t)(i + 1);
        assert(i + 1 <= UINT8_MAX);
    }
}
