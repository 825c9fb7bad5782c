build/src/cli/cli.o: src/cli/cli.c /usr/include/stdc-predef.h \
 src/cli/cli.h
/usr/include/stdc-predef.h:
src/cli/cli.h:
