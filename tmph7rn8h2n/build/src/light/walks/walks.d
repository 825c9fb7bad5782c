build/src/light/walks/walks.o: src/light/walks/walks.c \
 /usr/include/stdc-predef.h src/light/walks/walks.h
/usr/include/stdc-predef.h:
src/light/walks/walks.h:
