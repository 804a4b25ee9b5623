# Reads names of files; looks in each text file for what may stand in none of them: things left to do, places of one
# machine (this checkout, a home), and where a package was fetched from. here: the checkout; home: $HOME.
BEGIN {
    n = split(here, step, "/")
    above = n > 2 ? "/" step[2] "/" step[3] : "" # the folder that checkouts lie in
}
function says(place) { return length(place) > 3 && index(text, place) }
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
        if (says(here) || says(above) || says(home "/") || text ~ /(^|[ "'=(`:])\/(home|Users)\/[A-Za-z]/)
            print file ":" line ": a place of one machine"
    }
    close(file)
}
