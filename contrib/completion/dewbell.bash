# Completion of dewbell and dewbelld for bash. Installed as share/bash-completion/completions/dewbell and dewbelld. Commands, options and
# what follows an option are asked of --help, so that what is offered is what the program knows.

_dewbell_commands() {
    "$1" --help 2>/dev/null | awk '/^[A-Z]/ { on = $1 == "Commands" } on && /^  [a-z]/ { print $1 }'
}

# A line an option: its name, and after it what it takes: DIR, FILE, ...; nothing, if it takes nothing.
_dewbell_options() {
    "$1" --help 2>/dev/null | awk '$1 ~ /^--[a-z]/ { print $1, ($2 ~ /^[A-Z]+$/ ? $2 : "") }'
}

# The names of jobs or sowings of the plan that is named on the line so far, from the first column that JSON gives.
_dewbell_names() { # PROGRAM KEY [OPTION VALUE]...
    local program=$1 key=$2
    shift 2
    "$program" "$@" --json jobs 2>/dev/null | grep -o "\"$key\":\"[^\"]*\"" | cut -d '"' -f 4 | sort -u
}

# The names of its beds.
_dewbell_beds() { # PROGRAM [OPTION VALUE]...
    local program=$1
    shift
    "$program" "$@" --json beds 2>/dev/null | grep -o '^{"bed":"[^"]*"' | cut -d '"' -f 4
}

_dewbell() {
    local current=${COMP_WORDS[COMP_CWORD]} previous=${COMP_WORDS[COMP_CWORD - 1]} program=${COMP_WORDS[0]}
    local command='' i word option
    local -a given=()
    local -A takes=()

    COMPREPLY=()
    while read -r option word; do
        takes[$option]=$word
    done < <(_dewbell_options "$program")
    case ${takes[$previous]-} in
    '') ;;
    DIR)
        compopt -o filenames 2>/dev/null
        mapfile -t COMPREPLY < <(compgen -d -- "$current")
        return
        ;;
    FILE | PLACE)
        compopt -o filenames 2>/dev/null
        if [[ $previous == --garden ]]; then
            mapfile -t COMPREPLY < <(compgen -f -X '!*.ini' -- "$current"; compgen -d -- "$current")
        else
            mapfile -t COMPREPLY < <(compgen -f -- "$current")
        fi
        return
        ;;
    *) return ;;
    esac
    for ((i = 1; i < COMP_CWORD; i++)); do
        word=${COMP_WORDS[i]}
        case $word in
        --garden | --state | --rules | --date) given+=("$word" "${COMP_WORDS[i + 1]}") ;;
        esac
        if [[ -n ${takes[$word]-} ]]; then
            i=$((i + 1))
        elif [[ $word != -* ]]; then
            command=${command:-$word}
        fi
    done
    if [[ $current == -* ]]; then
        mapfile -t COMPREPLY < <(compgen -W "${!takes[*]}" -- "$current")
    elif [[ -z $command && ${program##*/} == dewbell ]]; then
        mapfile -t COMPREPLY < <(compgen -W "$(_dewbell_commands "$program")" -- "$current")
    else
        case $command in
        why) mapfile -t COMPREPLY < <(compgen -W "$(_dewbell_names "$program" job "${given[@]}")" -- "$current") ;;
        beds) mapfile -t COMPREPLY < <(compgen -W "$(_dewbell_beds "$program" "${given[@]}")" -- "$current") ;;
        note | notes)
            mapfile -t COMPREPLY < <(compgen -W "$(_dewbell_names "$program" sowing "${given[@]}")" -- "$current")
            ;;
        esac
    fi
}

complete -F _dewbell dewbell dewbelld
