build/src/base/base.o: src/base/base.c /usr/include/stdc-predef.h \
 src/base/base.h
/usr/include/stdc-predef.h:
src/base/base.h:
