build/src/light/lamps/lamps.o: src/light/lamps/lamps.c \
 /usr/include/stdc-predef.h src/light/lamps/lamps.h
/usr/include/stdc-predef.h:
src/light/lamps/lamps.h:
