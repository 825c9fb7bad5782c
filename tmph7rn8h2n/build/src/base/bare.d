build/src/base/bare.o: src/base/bare.c /usr/include/stdc-predef.h
/usr/include/stdc-predef.h:
