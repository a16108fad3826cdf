"""What may go wrong, what must come of it, and the tests that make it go wrong."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Row:
    """One kind of fault.

    Attributes
    ----------
    fault, behaviour
        What happens, and what the tool must make of it.
    tests
        ``file::function`` below ``tests/``, each of which provokes it.
    open
        What does not hold or does not apply yet, and why; "" where all of it is tested.
    """

    fault: str
    behaviour: str
    tests: tuple[str, ...] = ()
    open: str = ""


WRITING, READING, TERMS = (
    f"faults/test_{name}.py::test_" for name in ("writing", "reading", "terms")
)
STUDY, LOAD, FILES = (
    "study/test_faults.py::test_",
    "study/test_load.py::test_",
    "test_files.py::test_",
)
PAGE, COMMANDS = "browser/test_page.py::test_", "cli/test_commands.py::test_"
CLUSTER = "cli/test_cluster.py::test_"
STORE = "search/test_shared_store.py::test_"

FAULTS: tuple[Row, ...] = (
    Row(
        "study missing, a folder without study.toml, unreadable, a pipe, a link to itself",
        "exit 2, one line each: path and reason",
        (
            f"{STUDY}no_such_folder_points_at_the_nearest",
            f"{STUDY}folder_without_study",
            f"{STUDY}paths_that_cannot_be",
            f"{FILES}a_pipe_is_not_waited_for",
            f"{READING}nobody_may_read_it",
            f"{READING}linked_studies_are_the_same_study",
        ),
    ),
    Row(
        "not UTF-8, a NUL, a byte order mark, CRLF",
        "the first two are named with their place, the others are accepted",
        (f"{STUDY}not_utf8_and_nul", f"{LOAD}marks_and_line_ends_change_nothing"),
    ),
    Row(
        "TOML syntax, a key twice",
        "file:line:column and the line",
        (f"{STUDY}syntax_is_told_with_line_and_column",),
    ),
    Row(
        "deep nesting, endless numbers, 10 MB, a million rows, thousands of entries nearly right, "
        "more faults than anybody reads",
        "refused in bounded time and memory, the bound named, at most 200 faults written out",
        (
            f"{STUDY}monsters_are_refused_before_they_are_parsed",
            f"{STUDY}too_many_columns",
            f"{FILES}a_file_far_too_large_names_the_limit",
            f"{READING}monsters_are_refused_in_bounded_time_and_memory",
            f"{READING}crowds_are_refused_before_each_is_compared_with_all",
            f"{READING}the_limits_of_the_monsters_bite",
        ),
    ),
    Row(
        "unknown key or part, wrong case, wrong type, a number without a unit, a wrong unit",
        "all at once, each at its place with what is expected and the nearest name",
        (
            f"{STUDY}each_fault_is_told_at_its_place",
            f"{STUDY}all_faults_are_told_in_one_go",
            f"{STUDY}a_key_without_its_section_is_told_where_it_stands",
        ),
    ),
    Row(
        "NaN, inf, 1e999, a negative size or none, a rod as wide as its bore, a range upside down",
        "refused, the allowed range in the user's units",
        (
            f"{STUDY}each_fault_is_told_at_its_place",
            f"{STUDY}ranges_are_told_in_the_system_of_the_study",
            f"{LOAD}random_cells_give_faults_and_nothing_else",
        ),
    ),
    Row(
        "contradictory limits",
        "found before any work, the two named",
        (f"{STUDY}contradictory_limits_are_named",),
    ),
    Row(
        "a space of thousands of millions of machines",
        "size said, searched exactly",
        (f"{COMMANDS}front_in_words_says_what_it_covers", f"{COMMANDS}front_json_and_table"),
        "no bound on time: the search is exact or nothing; lists with four copies of each part at "
        "other prices (6e14 machines) took over a minute and were given up",
    ),
    Row(
        "the solver does not close for some machines",
        "these lanes are NaN and break a limit, the rest keep their bits",
        (
            "physics/test_columns.py::test_a_lane_of_nan_stays_alone",
            "machine/test_laws.py::test_one_machine_and_a_column_give_the_same_bits_in_any_company",
        ),
    ),
    Row(
        "nothing feasible",
        "the page is made and says so",
        (
            "report/test_page.py::test_the_empty_front_says_so_in_plain_markup",
            f"{PAGE}a_phone_needs_no_sideways_scroll",
        ),
    ),
    Row("a front of one machine", "a valid page", (f"{PAGE}a_phone_needs_no_sideways_scroll",)),
    Row(
        "readings that no machine could give",
        "refused, the worst of them named",
        (
            "cli/test_fit.py::test_readings_against_physics_are_refused_all_at_once",
            f"{READING}readings_far_off_are_refused",
        ),
    ),
    Row(
        "Ctrl-C and SIGTERM, in the search and at every call that writes",
        "130 and 143, files old or new, nothing beside them",
        (f"{WRITING}ended_during_the_search", f"{WRITING}every_call_of_a_command_may_fail"),
        "a search begins again where it has no --store",
    ),
    Row(
        "a process that shares a search is killed, or the search itself is ended",
        "its share is done again, the answer is the same; no process is left behind",
        (
            "cli/test_front_command.py::test_a_killed_process_loses_nothing",
            "cli/test_front_command.py::test_a_search_that_is_ended_leaves_no_process_behind",
        ),
    ),
    Row(
        "an exact search that is kept is killed; its file is torn, before or meanwhile, of another "
        "study, or something else",
        "it goes on with the shares that are done and ends with the same bytes; exit 2 and what to "
        "do",
        (
            "cli/test_front_command.py::test_a_kept_search_goes_on_where_it_was_stopped",
            "cli/test_front_command.py::test_a_store_of_another_study_or_kind_is_refused",
            "cli/test_front_command.py::test_a_store_that_is_torn_meanwhile_is_told_at_once",
        ),
        "a share is what one process does in some seconds; one that was not done is done again",
    ),
    Row(
        "a worker of a cluster is killed; all of them, or the scheduler; one has another version",
        "its share is done by another; the rest by the computer that asked, which says so; exit 2 "
        "and what differs; the answer has the same bytes",
        (
            f"{CLUSTER}a_killed_worker_costs_its_share_only",
            f"{CLUSTER}a_lost_cluster_is_told_and_this_process_does_the_rest",
            f"{CLUSTER}a_worker_of_another_version_is_refused",
            f"{CLUSTER}where_nobody_works_nothing_is_begun",
        ),
        "a worker whose computer loses its power is missed after minutes, as the scheduler is set; "
        "a share that is cancelled while it runs goes on to its end",
    ),
    Row(
        "SIGKILL, at random moments and before every call that writes",
        "files old or new; at most one hidden .part file is left, which the next write clears away",
        (
            f"{WRITING}killed_at_any_moment",
            f"{WRITING}every_call_of_a_command_may_fail",
            f"{WRITING}what_a_killed_process_left_goes_with_the_next_write",
            f"{FILES}a_part_cleared_away_before_its_lock_is_made_again",
            f"{FILES}only_parts_of_its_own_are_cleared",
            f"{FILES}without_locks_nothing_is_cleared",
        ),
        "a search begins again where it has no --store",
    ),
    Row(
        "disk full, file-size limit, device broken, read-only file system or folder",
        "exit 1, path and reason; files old or new, nothing beside them",
        (
            f"{WRITING}a_full_disk",
            f"{WRITING}a_read_only_folder",
            f"{WRITING}every_call_of_a_command_may_fail",
            f"{FILES}every_call_may_fail",
        ),
    ),
    Row(
        "a file where the folder of results goes, or a folder where a result goes",
        "exit 2 before any work, each named with what stands there; nothing written",
        (f"{WRITING}something_else_stands_where_results_go",),
    ),
    Row(
        "saved answers torn, foreign, too deep, with numbers that are none",
        "exit 2, the file named and left alone",
        (
            f"{READING}torn_and_foreign_answers",
            "faults/test_reading.py::test_torn_and_foreign_tables",
            "cli/test_compare.py::test_what_cannot_be_compared_is_refused",
        ),
    ),
    Row(
        "study or prices changed since an answer, or while they are read",
        "the fingerprint differs, the answer is flagged, states are not mixed",
        (
            "cli/test_compare.py::test_an_answer_of_another_state_is_flagged_or_refused",
            "cli/test_compare.py::test_answers_know_where_their_study_is_and_when_it_has_changed",
            f"{LOAD}fingerprint_changes_with_what_answers_depend_on",
            f"{READING}a_study_that_changes_while_it_is_read",
            f"{READING}a_study_that_changes_during_a_sweep",
        ),
        "a list saved in two goes is read as it stands in between where that is a valid list; "
        "lists replaced one after the other are read in the state each has when its turn comes",
    ),
    Row(
        "two processes write the same results",
        "always the whole of one or of the other",
        (f"{WRITING}two_at_once",),
        "a store of a search with ranges that several share has a row of its own",
    ),
    Row(
        "names that are markup, links, right-to-left marks, 10,000 characters, terminal commands",
        "shown as text in page and terminal, the layout holds; control characters are refused",
        (
            f"{PAGE}hostile_words_stay_words",
            f"{PAGE}long_names_keep_their_place",
            f"{PAGE}pointing_at_hostile_names_shows_text",
            f"{STUDY}names_are_plain_text",
            f"{TERMS}hostile_names_in_words_and_tables",
            f"{TERMS}names_with_control_characters_do_not_reach_the_terminal",
        ),
    ),
    Row(
        "words of a study that became markup of the page after all",
        "the page's own policy: nothing runs, nothing is asked for, nothing goes out",
        (
            "browser/test_policy.py::test_the_browser_refuses",
            "browser/test_policy.py::test_a_script_with_one_letter_more_does_not_run",
            "report/test_page.py::test_the_policy_allows_these_two_scripts_and_no_request",
            "report/test_page.py::test_markup_asks_for_nothing_and_runs_nothing_inline",
            "report/test_page.py::test_own_scripts_do_without",
        ),
    ),
    Row(
        "names that are formulas, of parts, limits, studies and in saved answers",
        "inert in every table",
        (
            f"{PAGE}formulas_are_disarmed_in_csv",
            f"{COMMANDS}names_that_look_like_formulas_are_inert_in_the_table",
            f"{TERMS}hostile_names_in_words_and_tables",
        ),
    ),
    Row(
        "output names with a way out, links where results go",
        "never outside the folder chosen; a link in place of a result is replaced",
        (
            f"{FILES}other_names_are_refused",
            f"{FILES}links_may_not_lead_out",
            f"{WRITING}links_where_results_go",
            f"{WRITING}the_folder_one_stands_in",
        ),
    ),
    Row(
        "a browser without WebGL, without DecompressionStream, without scripts",
        "flat charts, or a message and tables in plain HTML",
        (
            f"{PAGE}without_webgl_the_flat_charts_stay",
            f"{PAGE}without_unpacking_there_are_tables",
            f"{PAGE}without_scripts_there_are_tables",
        ),
    ),
    Row(
        "another locale, encoding, zone, hash seed, no HOME, odd clock and file times",
        "the same bytes; a sign that the output has no letter for is a question mark",
        (
            f"{TERMS}odd_surroundings",
            f"{READING}odd_times_of_files_and_clock",
            "report/test_page.py::test_another_process_with_another_hash_seed_gives_the_same_bytes",
        ),
    ),
    Row(
        "a database that restarts or stays away, a password in its URL",
        "waited for up to a minute, then exit 1 and the same command goes on; the same designs as "
        "undisturbed; the password is told nowhere",
        (
            f"{STORE}a_restarted_server_changes_nothing",
            f"{STORE}a_server_that_stays_away_ends_the_search_which_goes_on_later",
            f"{STORE}a_call_with_a_url_tells_no_password",
            "search/test_sampled.py::test_no_password_of_a_store_is_told",
        ),
    ),
    Row(
        "the file of a search with ranges is torn, before or meanwhile, of another study, or "
        "something else",
        "exit 2 at once and what to do",
        (
            "search/test_sampled.py::test_a_store_of_another_question_is_refused",
            "search/test_sampled.py::test_what_is_no_store_is_refused_with_what_to_do",
            "search/test_sampled.py::test_a_store_that_is_torn_meanwhile_is_told_at_once",
        ),
    ),
    Row(
        "several processes at one store, one of them killed",
        "the others go on; what it was given is worked out by the next; none proposes what another "
        "does",
        (f"{STORE}several_at_one_search_of_which_one_is_killed",),
        "a design that a process was killed in the middle of being given has no values and is left",
    ),
    Row(
        "an optional library is absent",
        "exit 2, the command that installs it, nothing written",
        (
            f"{TERMS}missing_parquet_library",
            f"{CLUSTER}without_the_library_one_line_says_what_to_install",
            "search/test_sampled.py::test_without_the_library_one_line_says_what_to_install",
            f"{STORE}without_the_driver_one_line_says_what_to_install",
            "search/test_sampled.py::test_a_gaussian_process_without_its_library_says_what_to_install",
        ),
    ),
    Row(
        "standard output closed, full or left by its reader; no terminal, 20 columns",
        "quiet, plain; full: exit 1 and one line",
        (
            f"{COMMANDS}a_closed_pipe_ends_quietly",
            f"{TERMS}a_reader_that_leaves",
            f"{TERMS}a_reader_that_left_before",
            f"{TERMS}output_that_is_full_or_closed",
            f"{TERMS}odd_surroundings",
        ),
    ),
    Row(
        "any byte, value or nesting of a study, a list, a change or a saved answer",
        "only the tool's own errors, no warning, 2 s and 500 MB at most",
        (
            f"{READING}mutated_studies_and_answers",
            f"{LOAD}random_bytes_give_faults_and_nothing_else",
            f"{LOAD}random_values_give_faults_and_nothing_else",
            f"{LOAD}random_changes_give_faults_and_nothing_else",
        ),
    ),
)
