/* Golden texts: what something looks like, kept as plain files and compared line by line.
 * `make golden` writes them again; read the difference before you commit it. */
#ifndef STOKEHOLD_TESTS_GOLDEN_H
#define STOKEHOLD_TESTS_GOLDEN_H

/* Compares text with tests/DIRECTORY/golden/NAME (.txt where it names no other ending) and fails
 * the test at the first line that differs; with GOLDEN=write in the environment it writes the file
 * instead. */
void golden_check(const char *directory, const char *name, const char *text);

#endif
