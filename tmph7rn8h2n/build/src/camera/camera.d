build/src/camera/camera.o: src/camera/camera.c /usr/include/stdc-predef.h \
 src/camera/camera.h
/usr/include/stdc-predef.h:
src/camera/camera.h:
