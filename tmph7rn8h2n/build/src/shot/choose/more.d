build/src/shot/choose/more.o: src/shot/choose/more.c \
 /usr/include/stdc-predef.h src/shot/choose/more.h \
 src/shot/choose/choose.h
/usr/include/stdc-predef.h:
src/shot/choose/more.h:
src/shot/choose/choose.h:
