# Reads daemon/layers, then sources: each include of another folder must be allowed there.
# A public header belongs to a folder as well: whoever may not use that folder may not use its header.
BEGIN {
    n = split("arena:base mistake:base status:base date:calc units:calc almanac:calc soil:calc water:calc thermal:calc frost:calc bias:calc " \
              "weather:model garden:model crop:model diary:model position:model rule:rules job:engine plot:engine week:model", pair, " ")
    for (i = 1; i <= n; i++) {
        split(pair[i], part, ":")
        owner[part[1]] = part[2]
    }
    # The rules are run against the view, life and job that job.h describes; they call nothing of the engine.
    allowed["rules", "engine header"] = 1
    # Every folder says how a call went.
    owner["status"] = "base"
}

FILENAME == "daemon/layers" {
    if ($0 ~ /^[ \t]*(#|$)/)
        next
    split($0, half, ":")
    split(half[1], left, " ")
    known[left[1]] = 1
    n = split(half[2], may, " ")
    for (i = 1; i <= n; i++)
        allowed[left[1], may[i]] = 1
    next
}

/^[ \t]*#[ \t]*include[ \t]*"/ {
    split($0, quote, "\"")
    to = quote[2]
    n = split(FILENAME, at, "/")
    if (at[1] == "daemon") {
        from = at[2]
    } else {
        name = at[n]
        sub(/\.h$/, "", name)
        if (!(name in owner)) {
            if (!told[FILENAME]++)
                print FILENAME ": tests/lint/layers.awk does not know which folder this header belongs to"
            next
        }
        from = owner[name]
    }
    if (!(from in known)) {
        print FILENAME ": daemon/layers has no line for " from
        next
    }
    kind = ""
    if (to ~ /^dewbell\//) {
        name = to
        sub(/^dewbell\//, "", name)
        sub(/\.h$/, "", name)
        if (!(name in owner))
            next # said at the header itself
        target = owner[name]
        kind = " header"
    } else if (at[1] != "daemon") {
        print FILENAME ":" FNR ": a public header includes " to
        next
    } else if (index(to, "/")) {
        target = substr(to, 1, index(to, "/") - 1)
    } else {
        print FILENAME ":" FNR ": write \"" from "/" to "\""
        next
    }
    if (target != from && !((from, target) in allowed) && !((from, target kind) in allowed))
        print FILENAME ":" FNR ": " from " may not use " target " (" to ")"
}
