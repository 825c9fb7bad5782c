build/src/shot/choose/choose.o: src/shot/choose/choose.c \
 /usr/include/stdc-predef.h src/shot/choose/choose.h \
 src/shot/choose/more.h
/usr/include/stdc-predef.h:
src/shot/choose/choose.h:
src/shot/choose/more.h:
