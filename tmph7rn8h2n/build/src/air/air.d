build/src/air/air.o: src/air/air.c /usr/include/stdc-predef.h \
 src/air/air.h
/usr/include/stdc-predef.h:
src/air/air.h:
