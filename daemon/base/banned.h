/* Calls that have cut, overrun or surprised too often. Include this last in every .c: using one then breaks the build. */
#ifndef DB_BASE_BANNED_H
#define DB_BASE_BANNED_H

#undef alloca /* a macro in glibc's <stdlib.h>; poisoning a macro is a warning */
#pragma GCC poison strcpy strcat strncpy strncat sprintf vsprintf strtok atoi atol atof gets gmtime localtime ctime    \
    asctime system popen tmpnam mktemp alloca rand srand

#ifdef DB_PURE
#pragma GCC poison malloc calloc realloc free time clock printf fprintf fopen getenv setlocale strtod
#endif

#endif
