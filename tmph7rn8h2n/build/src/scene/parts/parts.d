build/src/scene/parts/parts.o: src/scene/parts/parts.c \
 /usr/include/stdc-predef.h src/scene/parts/parts.h
/usr/include/stdc-predef.h:
src/scene/parts/parts.h:
