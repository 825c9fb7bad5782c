build/src/shot/shot.o: src/shot/shot.c /usr/include/stdc-predef.h \
 src/shot/shot.h
/usr/include/stdc-predef.h:
src/shot/shot.h:
