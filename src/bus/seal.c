#include "bus/seal.h"

#include <string.h>

#include "base/banned.h"

static const uint8_t head[8] = {0x50, 0x2A, 0x4D, 0x18, SEAL_SIZE - 8, 0, 0, 0};

void seal_make(uint8_t seal[SEAL_SIZE], const char sum[SHA256_TEXT])
{
    memcpy(seal, head, sizeof head);
    memcpy(seal + sizeof head, SEAL_TEXT, sizeof SEAL_TEXT - 1);
    memcpy(seal + sizeof head + sizeof SEAL_TEXT - 1, sum, SHA256_TEXT - 1);
    seal[SEAL_SIZE - 1] = '\n';
}

bool seal_read(const uint8_t seal[SEAL_SIZE], char sum[SHA256_TEXT])
{
    const uint8_t *text = seal + sizeof head;
    if (memcmp(seal, head, sizeof head) != 0 ||
        memcmp(text, SEAL_TEXT, sizeof SEAL_TEXT - 1) != 0 || seal[SEAL_SIZE - 1] != '\n')
        return false;
    memcpy(sum, text + sizeof SEAL_TEXT - 1, SHA256_TEXT - 1);
    sum[SHA256_TEXT - 1] = '\0';
    return true;
}
