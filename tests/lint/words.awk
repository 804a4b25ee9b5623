# Reads names of files; looks in each text file for what may stand in none of them: things left to do, places of one
# machine, and where a package was fetched from. here: the checkout; home: $HOME; roots: the folders in / of this machine.
BEGIN {
    n = split(here, step, "/")
    above = n > 2 ? "/" step[2] "/" step[3] : "" # the folder that checkouts lie in
    n = split(roots, root, /[ \n]+/)
    for (i = 1; i <= n; i++)
        stands["/" root[i]] = 1
    before = "[][ \t\"'`=({<>|&:;,@!^]" # what may stand before a path; behind a word or a variable it is the rest of one
    path = "/[A-Za-z][A-Za-z0-9_.-]*(/[A-Za-z0-9_.*$%{}-]*)*"

    # Every path that begins with / begins with one of these. Places that any machine has, or that our tests make:
    allow("/bin/ /dev/ /etc/ /lib/ /proc/ /run/ /sbin/ /srv/ /sys/ /usr/ /var/")
    allow("/bin /dev /etc /home /lib /mnt /proc /root /run /sbin /srv /sys /tmp /usr /var", "whole")
    allow("/mnt/posts /tmp/dewbell- /tmp/s/hall")
    # No files at all. Addresses of feeds, of the page, and on the servers of tests:
    allow("/f/ /F/ /asked/ /at/ /doc/ /en/ /square/")
    # JSON Pointers into forecasts and the status:
    allow("/daily/ /daily_units/ /data/ /days/ /gardens/0/ /geometry/coordinates/ /hours/ /number_of_executed_units/ /properties/ /units/")
    # What follows a folder's name in the middle of a word or pattern:
    allow("/build/ /copy/jobs/ /crops/ /eu-test-1/ /fd/ /feeds/ /garden/feeds/ /sowings/ /Sow/")
}
function allow(words, whole,    one, count, k) {
    count = split(words, one, " ")
    for (k = 1; k <= count; k++)
        if (whole) entire[one[k]] = 1; else allowed[one[k]] = 1
}
function may_stand(place,    one) {
    if (place ~ /^\/tmp\/[^\/]*$/) # a file of a test's, not a folder that somebody works in
        return 1
    if (place in entire || (place !~ /.\// && !(place in stands))) # of one name, and none of this machine's folders
        return 1
    for (one in allowed)
        if (index(place, one) == 1)
            return 1
    return 0
}
# The first path of the text that may not stand there; "" if there is none.
function strange_path(text,    rest, place) {
    rest = " " text
    while (match(rest, before path)) {
        place = substr(rest, RSTART + 1, RLENGTH - 1)
        if (!may_stand(place))
            return place
        rest = substr(rest, RSTART + RLENGTH)
    }
    return ""
}
function says(place) { return length(place) > 3 && index(text, place) }
/\.(png|jpg|ics|csv|gz)$/ || $0 == "tests/lint/words.awk" { next }
{
    file = $0
    line = 0
    while ((getline text <file) > 0) {
        line++
        if (file !~ /^tests\/corpus\// && text ~ /(^|[^A-Za-z_])(TODO|FIXME|XXX|HACK)([^A-Za-z_]|$)/)
            print file ":" line ": something is left to do"
        if (file ~ /package-lock\.json$/ && text ~ /"resolved"/)
            print file ":" line ": says where a package was fetched from"
        if (says(here) || says(above) || says(home "/"))
            print file ":" line ": a place of one machine"
        else if ((strange = strange_path(text)) != "")
            print file ":" line ": " strange " is no place that any machine has; if it is, or is no file at all, tests/lint/words.awk lists those"
    }
    close(file)
}
