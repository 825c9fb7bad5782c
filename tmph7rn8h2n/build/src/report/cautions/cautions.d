build/src/report/cautions/cautions.o: src/report/cautions/cautions.c \
 /usr/include/stdc-predef.h src/report/cautions/cautions.h
/usr/include/stdc-predef.h:
src/report/cautions/cautions.h:
