build/src/light/airlight/airlight.o: src/light/airlight/airlight.c \
 /usr/include/stdc-predef.h src/light/airlight/airlight.h
/usr/include/stdc-predef.h:
src/light/airlight/airlight.h:
