build/src/light/geometry/geometry.o: src/light/geometry/geometry.c \
 /usr/include/stdc-predef.h src/light/geometry/geometry.h
/usr/include/stdc-predef.h:
src/light/geometry/geometry.h:
