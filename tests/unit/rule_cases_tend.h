/* What stands is looked after: what data_rules.c tries. All of it is common practice, no source; the weeks are counted by hand from
 * the days that are noted. */
{ "sprout-seed-potatoes", /* six weeks before 17 March is 3 February */
  { "early-potato", "east", NULL, DB_WAY_SETS, "2015-03-17", NULL, { { 0 } } },
  "2015-02-05",
  "2015-01-30" },
    { "earth-up-potatoes", /* six weeks after 17 March are 28 April; twice, and no more when they crop */
      { "potato", "east", NULL, DB_WAY_SETS, NULL, "2015-03-17", { { 0 } } },
      "2015-05-02",
      "2015-04-25" },
    { "earth-up-potatoes",
      { "early-potato", "east", NULL, DB_WAY_SETS, NULL, "2015-03-17", { { "earthed_up", "2015-05-01" } } },
      "2015-05-18",
      "2015-06-20" },
    /* Highs of 5 and 6 June 2015: 26.7, 29.4; of 1 to 4 June 16.1 to 22.8. */
    { "open-the-cover",
      { "tomato", "bench", "tunnel", DB_WAY_POT, NULL, "2015-02-20", { { "planted", "2015-05-10" } } },
      "2015-06-05",
      "2015-06-02" },
    { "pinch-out-broad-beans",
      { "broad-bean", "west", NULL, DB_WAY_DRILL, NULL, "2015-03-03", { { "up", "2015-03-21" } } },
      "2015-05-29",
      "2015-04-20" },
    { "take-out-side-shoots",
      { "tomato", "bench", "tunnel", DB_WAY_POT, NULL, "2015-02-20", { { "planted", "2015-05-10" } } },
      "2015-05-24",
      "2015-05-20" },
    { "weed-the-row", /* five weeks after 2 May are 6 June */
      { "carrot", "north", NULL, DB_WAY_DRILL, NULL, "2015-04-10", { { "up", "2015-05-02" } } },
      "2015-06-06",
      "2015-05-25" },
