build/src/shot/day/day.o: src/shot/day/day.c /usr/include/stdc-predef.h \
 src/shot/day/day.h
/usr/include/stdc-predef.h:
src/shot/day/day.h:
