build/src/picture/view/view.o: src/picture/view/view.c \
 /usr/include/stdc-predef.h src/picture/view/view.h
/usr/include/stdc-predef.h:
src/picture/view/view.h:
