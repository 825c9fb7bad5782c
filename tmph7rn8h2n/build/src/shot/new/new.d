build/src/shot/new/new.o: src/shot/new/new.c /usr/include/stdc-predef.h
/usr/include/stdc-predef.h:
