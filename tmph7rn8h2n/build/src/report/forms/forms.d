build/src/report/forms/forms.o: src/report/forms/forms.c \
 /usr/include/stdc-predef.h src/report/forms/forms.h
/usr/include/stdc-predef.h:
src/report/forms/forms.h:
