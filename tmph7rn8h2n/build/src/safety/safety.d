build/src/safety/safety.o: src/safety/safety.c /usr/include/stdc-predef.h \
 src/safety/safety.h
/usr/include/stdc-predef.h:
src/safety/safety.h:
