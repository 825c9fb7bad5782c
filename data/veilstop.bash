# Completion of veilstop for bash: source this file, or put it among bash-completion's. Commands and
# options come from the program's own help, so that none is missing here.
_veilstop() {
    local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD - 1]}
    local program=${COMP_WORDS[0]} command=${COMP_WORDS[1]-}
    COMPREPLY=()
    if [ "$COMP_CWORD" -eq 1 ] || { [ "$COMP_CWORD" -eq 2 ] && [ "$command" = help ]; }; then
        local commands
        commands=$("$program" --help 2>/dev/null | sed -n 's/^  \([a-z][a-z]*\) .*/\1/p')
        mapfile -t COMPREPLY < <(compgen -W "$commands help" -- "$word")
        return
    fi
    case $before in
    --units) mapfile -t COMPREPLY < <(compgen -W "m ft" -- "$word"); return ;;
    --order) mapfile -t COMPREPLY < <(compgen -W "file chosen" -- "$word"); return ;;
    --paper) mapfile -t COMPREPLY < <(compgen -W "a4 letter" -- "$word"); return ;;
    --haze) mapfile -t COMPREPLY < <(compgen -W "thin medium heavy" -- "$word"); return ;;
    --from) mapfile -t COMPREPLY < <(compgen -W "room corridor church night-street" -- "$word"); return ;;
    --curve) mapfile -t COMPREPLY < <(compgen -W "linear bt709 srgb acescct hlg pq camera display" -- "$word"); return ;;
    --data) mapfile -t COMPREPLY < <(compgen -d -- "$word"); return ;;
    esac
    case $word in
    -*)
        local options
        options=$("$program" help "$command" 2>/dev/null | sed -n 's/^  \(--[a-z-]*\).*/\1/p')
        mapfile -t COMPREPLY < <(compgen -W "$options" -- "$word")
        ;;
    *) mapfile -t COMPREPLY < <(compgen -f -- "$word") ;;
    esac
}
complete -o filenames -F _veilstop veilstop
