# Reads names of files; looks in each text file for what may stand in none of them: things left to do, places of one
# machine, and where a package was fetched from.
# A path that begins in none of these may be a JSON Pointer or the path of an address.
BEGIN { split("home root work workspace workspaces builds mnt media srv scratch private users", list, " "); for (i in list) particular[list[i]] = 1 }
/\.(png|jpg|ics|csv|gz)$/ || /^tests\/corpus\// || $0 == "tests/lint/words.awk" { next }
{
    file = $0
    line = 0
    while ((getline text <file) > 0) {
        line++
        if (text ~ /(^|[^A-Za-z_])(TODO|FIXME|XXX|HACK)([^A-Za-z_]|$)/)
            print file ":" line ": something is left to do"
        if (file ~ /package-lock\.json$/ && text ~ /"resolved"/)
            print file ":" line ": says where a package was fetched from"
        rest = text ~ /(^|[^a-z])(sed|awk|grep) / ? "" : text # /pattern/
        while (match(rest, /(^|[ \t=(`:<>,])["']?\/[a-z]+\/[A-Za-z0-9]/)) {
            place = substr(rest, RSTART, RLENGTH)
            rest = substr(rest, RSTART + RLENGTH)
            sub(/^[^\/]*\//, "", place)
            sub(/\/.*/, "", place)
            if (place in particular)
                print file ":" line ": /" place "/ is a place of one machine"
        }
        if (text ~ /\/home\/|(^|[^.A-Za-z])\.\.\/\.\.\/\.\.\//)
            print file ":" line ": a place of one machine"
    }
    close(file)
}
