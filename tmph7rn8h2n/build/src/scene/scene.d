build/src/scene/scene.o: src/scene/scene.c /usr/include/stdc-predef.h \
 src/scene/scene.h
/usr/include/stdc-predef.h:
src/scene/scene.h:
