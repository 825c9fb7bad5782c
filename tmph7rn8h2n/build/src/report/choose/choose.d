build/src/report/choose/choose.o: src/report/choose/choose.c \
 /usr/include/stdc-predef.h src/report/choose/choose.h
/usr/include/stdc-predef.h:
src/report/choose/choose.h:
