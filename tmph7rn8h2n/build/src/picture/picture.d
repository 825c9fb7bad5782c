build/src/picture/picture.o: src/picture/picture.c \
 /usr/include/stdc-predef.h src/picture/picture.h
/usr/include/stdc-predef.h:
src/picture/picture.h:
