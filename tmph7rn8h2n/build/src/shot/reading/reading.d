build/src/shot/reading/reading.o: src/shot/reading/reading.c \
 /usr/include/stdc-predef.h src/shot/reading/reading.h
/usr/include/stdc-predef.h:
src/shot/reading/reading.h:
