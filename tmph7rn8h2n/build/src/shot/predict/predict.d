build/src/shot/predict/predict.o: src/shot/predict/predict.c \
 /usr/include/stdc-predef.h src/shot/predict/predict.h
/usr/include/stdc-predef.h:
src/shot/predict/predict.h:
