build/src/picture/pair/pair.o: src/picture/pair/pair.c \
 /usr/include/stdc-predef.h src/picture/pair/pair.h
/usr/include/stdc-predef.h:
src/picture/pair/pair.h:
