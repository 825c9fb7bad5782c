build/src/light/bounce/bounce.o: src/light/bounce/bounce.c \
 /usr/include/stdc-predef.h src/light/bounce/bounce.h
/usr/include/stdc-predef.h:
src/light/bounce/bounce.h:
