build/src/scene/json/json.o: src/scene/json/json.c \
 /usr/include/stdc-predef.h src/scene/json/json.h
/usr/include/stdc-predef.h:
src/scene/json/json.h:
