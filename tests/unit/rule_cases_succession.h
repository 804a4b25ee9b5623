/* The next sowing: what data_rules.c tries. Two weeks after 1 July is 15 July; ten hours of daylight end in Seattle on 1
 * November (1 November at 47.6 degrees in science tables of day length; common practice that growth stands still then). */
{ "sow-again",
  { "lettuce", "north", NULL, DB_WAY_DRILL, NULL, "2015-07-01", { { "+again", "14" } } },
  "2015-07-15",
  "2015-07-14" },
    { "sow-again", /* in autumn the next is too late; in July the one before is followed */
      { "lettuce", "north", NULL, DB_WAY_DRILL, NULL, "2015-08-01", { { "+again", "14" } } },
      "2015-08-15",
      "2015-08-26" },
    { "last-sowing",
      { "radish", "north", NULL, DB_WAY_DRILL, NULL, "2015-08-01", { { "+again", "14" } } },
      "2015-09-07",
      "2015-08-20" },
    /* First frosts before: 10, 21 and 12 November. 65 days at 17 degC and two weeks of harvest before them: August. */
    { "last-sowing-before-frost",
      { "french-bean", "south", NULL, DB_WAY_STATIONS, NULL, "2015-07-01", { { "+again", "14" } } },
      "2015-08-04",
      "2015-07-15" },
    { "sow-before-it-is-too-late",
      { "turnip", "north", NULL, DB_WAY_DRILL, "2015-09-20", NULL, { { "+again", "14" } } },
      "2015-08-19",
      "2015-07-20" },
    /* Radishes of 1 April are over in May, and the next, of 20 June, are not ready before the middle of July. To follow on at
     * once others would be sown before the middle of April; to fill part of the gap, until the middle of June. */
    { "fill-the-gap",
      { "radish", "north", NULL, DB_WAY_DRILL, NULL, "2015-04-01", { { "+again", "14" }, { "+later", "2015-06-20" } } },
      "2015-04-10",
      "2015-03-20" },
    { "fill-the-gap",
      { "radish", "north", NULL, DB_WAY_DRILL, NULL, "2015-04-01", { { "+again", "14" }, { "+later", "2015-06-20" } } },
      "2015-06-10",
      "2015-05-10" },
