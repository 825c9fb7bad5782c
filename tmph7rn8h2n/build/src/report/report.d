build/src/report/report.o: src/report/report.c /usr/include/stdc-predef.h \
 src/report/report.h
/usr/include/stdc-predef.h:
src/report/report.h:
