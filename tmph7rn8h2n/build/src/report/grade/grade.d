build/src/report/grade/grade.o: src/report/grade/grade.c \
 /usr/include/stdc-predef.h src/report/grade/grade.h
/usr/include/stdc-predef.h:
src/report/grade/grade.h:
