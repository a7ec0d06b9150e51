/* SHA-256 against the examples of FIPS 180-2, appendix B, and the empty message of NIST's
 * byte-oriented vectors. */
#include "base/sha256.h"

#include "support/check.h"

static void check(const char *message, size_t times, const char *digest)
{
    struct sha256 s;
    char text[SHA256_TEXT];

    sha256_init(&s);
    for (size_t i = 0; i < times; i++)
        sha256_add(&s, message, strlen(message));
    assert_string_equal(sha256_text(&s, text), digest);
}

static void sha256__published_examples__have_their_digests(void **state)
{
    (void)state;
    check("", 1, "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
    check("abc", 1, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    check("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq", 1,
          "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
    check("a", 1000000, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
}

static void sha256__in_pieces__is_the_same(void **state)
{
    struct sha256 s;
    char whole[SHA256_TEXT], parts[SHA256_TEXT], data[200];

    (void)state;
    for (size_t i = 0; i < sizeof data; i++)
        data[i] = (char)(i * 7);
    sha256_init(&s);
    sha256_add(&s, data, sizeof data);
    sha256_text(&s, whole);
    for (size_t cut = 0; cut <= sizeof data; cut++) {
        sha256_init(&s);
        sha256_add(&s, data, cut);
        sha256_add(&s, data + cut, sizeof data - cut);
        assert_string_equal(sha256_text(&s, parts), whole);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sha256__published_examples__have_their_digests),
        cmocka_unit_test(sha256__in_pieces__is_the_same),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
