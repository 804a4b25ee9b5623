/* What stands the winter: what data_rules.c tries. Lows of the mornings and the mean wind of the days are NOAA's, in the
 * recorded weather; summer solstices
 * 21 June 2013 and 2014, 05:04 and 10:51 UTC (astronomy libraries), so that 11, 17 and 35 weeks later are 6 September, 18 October
 * and 21 February; the rest is common practice, no source. */
{ "stake-for-the-winter",
  { "purple-sprouting-broccoli", "bench", "west", DB_WAY_POT, NULL, "2014-05-24", { { "planted", "2014-07-10" } } },
  "2014-09-12",
  "2014-08-25" },
    { "tread-firm-after-a-gale", /* 8.8 m/s on 1 December 2013, 3.1 and 3.2 on the days after it */
      { "purple-sprouting-broccoli", "bench", "west", DB_WAY_POT, NULL, "2013-05-24", { { "planted", "2013-07-10" } } },
      "2013-12-02",
      "2013-11-28" },
    { "firm-after-the-frost", /* -4.9 on 30 November, -3.2 on 2 December 2014; 0.0 on the 3rd, then mild */
      { "garlic", "south", NULL, DB_WAY_SETS, NULL, "2014-10-18", { { 0 } } },
      "2014-12-05",
      "2014-12-01" },
    { "firm-after-the-frost", /* frost does not lift seed that is not up; -3.2 on 1 January is the next */
      { "broad-bean", "west", NULL, DB_WAY_DRILL, NULL, "2014-11-02", { { "up", "2014-12-01" } } },
      "2015-01-05",
      "2014-12-05" },
    { "fleece-in-hard-cold", /* hardy ones, grown in: the ground at -5.5, which is about -3.5 in the screen */
      { "spring-cabbage", "bench", "west", DB_WAY_PLUGS, NULL, "2014-08-01", { { "planted", "2014-09-20" } } },
      "2014-11-28",
      "2014-11-12" },
    { "take-off-the-winter-fleece", /* lows of 5 to 7 February 2014: -5.5 to -6.0; of 10 to 16 February 2.2 to 7.8 */
      { "spring-cabbage", "bench", "west", DB_WAY_PLUGS, NULL, "2013-08-01", { { "planted", "2013-09-20" } } },
      "2014-02-10",
      "2014-02-06" },
    { "lift-a-few-before-it-freezes",
      { "parsnip", "north", NULL, DB_WAY_STATIONS, NULL, "2014-04-01", { { 0 } } },
      "2014-11-28",
      "2014-11-12" },
    /* -2.9 and more until 4 December 2013, then -4.9 and -7.1: below -7 all swedes are lifted, and not a few of them besides. */
    { "lift-a-few-before-it-freezes",
      { "swede", "north", NULL, DB_WAY_DRILL, NULL, "2013-06-01", { { "cropping", "2013-10-10" } } },
      "2013-12-02",
      "2013-12-05" },
    { "net-for-the-winter",
      { "purple-sprouting-broccoli", "bench", "west", DB_WAY_POT, NULL, "2014-05-24", { { "planted", "2014-07-10" } } },
      "2014-11-05",
      "2014-10-10" },
    { "feed-in-spring", /* the week before 12 March 2015 had a mean of about 10 degC; in October days shorten */
      { "garlic", "south", NULL, DB_WAY_SETS, NULL, "2014-10-18", { { 0 } } },
      "2015-03-12",
      "2015-01-20" },
