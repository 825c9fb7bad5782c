build/src/shot/scene/scene.o: src/shot/scene/scene.c \
 /usr/include/stdc-predef.h src/shot/scene/scene.h
/usr/include/stdc-predef.h:
src/shot/scene/scene.h:
