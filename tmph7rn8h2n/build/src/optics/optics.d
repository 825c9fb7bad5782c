build/src/optics/optics.o: src/optics/optics.c /usr/include/stdc-predef.h \
 src/optics/optics.h
/usr/include/stdc-predef.h:
src/optics/optics.h:
