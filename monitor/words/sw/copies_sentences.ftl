# Nakala za shamba zima: nini hakikufaulu, na wapi. Jina ni sentensi ya Kiingereza.

copies-to-such-an-address-need-the-library-name-which-is-not-installed-to-mend-command =
    nakala kwenda anwani kama hii zinahitaji maktaba { $name }, ambayo haijasakinishwa. Rekebisha: { $command }
file-does-not-hold-the-rows-that-it-should-tables =
    { $file } haina safu zinazotakiwa ({ $tables }).
file-has-found-bytes-in-place-of-size =
    { $file } ina baiti { $found } badala ya { $size }.
file-is-not-as-it-was-written =
    { $file } si kama ilivyoandikwa.
folder-a-copy-needs-needed-mb-of-room-there-and-free-mb-are-left-to-mend-delete-what-you-do-not-need-there-or-use-a-larger-stick-or-disk =
    { $folder }: nakala inahitaji nafasi ya MB { $needed } hapo, na zimebaki MB { $free }. Rekebisha: futa usichohitaji hapo, au tumia flashi au diski kubwa zaidi.
path-is-damaged-so-this-copy-cannot-be-trusted-to-mend-use-another-copy =
    { $path } imeharibika, hivyo nakala hii haiaminiki. Rekebisha: tumia nakala nyingine.
path-no-room-is-left-there-and-this-copy-was-thrown-away-to-mend-delete-what-you-do-not-need-there-or-use-a-larger-stick-or-disk =
    { $path }: hakuna nafasi iliyobaki hapo, na nakala hii imetupwa. Rekebisha: futa usichohitaji hapo, au tumia flashi au diski kubwa zaidi.
path-the-copy-is-not-whole-faults-to-mend-use-another-copy-when-it-happens-twice-use-another-stick-or-disk =
    { $path }: nakala si kamili. { $faults } Rekebisha: tumia nakala nyingine; ikitokea mara mbili, tumia flashi au diski nyingine.
# uncertain
place-does-not-take-or-give-copies-now-why-to-mend-see-whether-the-network-reaches-it-and-whether-user-password-and-folder-are-right =
    { $place } haipokei wala haitoi nakala sasa: { $why }. Rekebisha: angalia kama mtandao unafika hapo, na kama jina la mtumiaji, nenosiri na folda ni sahihi.
# uncertain
place-file-came-back-other-than-it-was-sent-and-this-copy-was-thrown-away-to-mend-try-again-when-it-happens-twice-use-another-place =
    { $place }: { $file } imerudi tofauti na ilivyotumwa, na nakala hii imetupwa. Rekebisha: jaribu tena; ikitokea mara mbili, tumia mahali pengine.
place-was-not-prepared-for-copies-and-nothing-was-written-if-it-is-the-right-place-run-command =
    { $place } hapajaandaliwa kwa nakala, na hakuna kilichoandikwa. Kama ni mahali sahihi, endesha: { $command }
path-cannot-be-written-why-to-mend-see-whether-the-stick-or-disk-is-locked-against-writing-or-damaged-and-whether-the-folder-belongs-to-the-user-of-the-monitor =
    { $path } haiwezi kuandikwa: { $why }. Rekebisha: angalia kama flashi au diski imefungwa isiandikwe au imeharibika, na kama folda ni ya mtumiaji wa programu.
# uncertain
the-server-at-host-has-the-key-found-not-wanted-and-got-neither-password-nor-copy-to-mend-ask-whoever-runs-it-where-the-key-was-changed-on-purpose-write-the-new-one-into-host-key =
    seva { $host } ina ufunguo { $found }, si { $wanted }, na haikupata nenosiri wala nakala. Rekebisha: uliza anayeiendesha; kama ufunguo ulibadilishwa kwa makusudi, andika mpya kwenye host_key.
