build/src/cli/commands/commands.o: src/cli/commands/commands.c \
 /usr/include/stdc-predef.h src/cli/commands/commands.h
/usr/include/stdc-predef.h:
src/cli/commands/commands.h:
