/* Calls that are too easy to get wrong, made compile errors. Included last by every .c file.
 * Use text_copy, text_format and text_number (base/text.h) in their place. */
#ifndef STOKEHOLD_BANNED_H
#define STOKEHOLD_BANNED_H

#undef strcpy
#define strcpy(...) BANNED_use_text_copy
#undef strncpy
#define strncpy(...) BANNED_use_text_copy
#undef strcat
#define strcat(...) BANNED_use_text_format
#undef strncat
#define strncat(...) BANNED_use_text_format
#undef sprintf
#define sprintf(...) BANNED_use_text_format
#undef vsprintf
#define vsprintf(...) BANNED_use_text_format
#undef gets
#define gets(...) BANNED_use_getline
#undef strtok
#define strtok(...) BANNED_use_strtok_r
#undef atoi
#define atoi(...) BANNED_use_text_to_long
#undef atof
#define atof(...) BANNED_use_text_to_double
#undef localtime
#define localtime(...) BANNED_use_localtime_r
#undef gmtime
#define gmtime(...) BANNED_use_gmtime_r
#undef system
#define system(...) BANNED_hooks_run_without_a_shell

#endif
