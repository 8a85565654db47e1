# Picha za maingizo; chini, sababu za kuzikataa. Jina ni sentensi ya Kiingereza.

## photo

photo-add = Ongeza picha
photo-another = Chagua picha nyingine
photo-kept = Picha yako inaambatana.
photo-out = Acha picha
# uncertain
photo-no_scripts = JPEG isiyozidi kB { $most }. Kile ambacho kamera imeandika kuhusu mahali na wakati huondolewa.
photo-scaling = Picha inapunguzwa …
photo-ready = Picha inaambatana: kB { $size }.
photo-unreadable = Picha hii haisomeki kwenye simu hii, kwa hiyo hakuna picha inayoambatana. Chagua nyingine, au andika bila picha.
photo-left = { $count ->
    [one] Kuna nafasi ya picha moja zaidi.
   *[other] Kuna nafasi ya picha { $count } zaidi.
}
photo-full = Hakuna nafasi ya picha zaidi. Mmiliki anaweza kuongeza nafasi.
photo-open = Picha
photo-of = Picha: { $what }
photo-with = Ina picha
photo-gone = Picha ilifutwa { $at } na { $who }.
photo-lost = Faili la picha hii halipo tena kwenye kompyuta ya shamba. Huenda nakala inalo.

## what refuses a photo

path-the-disk-has-no-room-left-for-a-photo-to-mend-remedy =
    { $path }: diski haina nafasi ya picha. Suluhisho: { $remedy }.
the-photo-has-width-height-dots-at-most-side-on-its-longer-side-are-taken-choose-a-smaller-one-or-write-the-entry-without-one =
    picha ina nukta { $width } × { $height }; upande mrefu usizidi { $side }. Chagua ndogo zaidi, au andika bila picha
the-photo-is-not-there-any-more-choose-it-again-or-write-the-entry-without-one =
    picha haipo tena. Ichague tena, au andika bila picha
the-photo-is-not-whole-it-was-damaged-or-cut-off-on-its-way-choose-it-again =
    picha haijakamilika: iliharibika au ilikatika njiani. Ichague tena
# uncertain
the-photo-is-too-large-at-most-most-kb-are-taken-where-the-page-may-run-scripts-the-phone-makes-it-smaller-by-itself-else-choose-a-smaller-photo-or-write-the-entry-without-one =
    picha ni kubwa mno; haipaswi kuzidi kB { $most }. Pale ukurasa unaporuhusiwa kutumia script, simu huipunguza yenyewe; vinginevyo chagua picha ndogo zaidi, au andika bila picha
there-is-no-room-for-more-photos-on-the-farm-s-computer-and-none-is-deleted-by-itself-the-entry-can-be-written-without-one-the-owner-can-make-room-in-a-terminal-rearing-monitor-photos =
    hakuna nafasi ya picha zaidi kwenye kompyuta ya shamba, na hakuna inayofutwa yenyewe. Unaweza kuandika bila picha; mmiliki anaweza kuongeza nafasi (kwenye terminal: `rearing-monitor photos`)
this-is-no-photo-that-can-be-kept-jpeg-is-taken-as-cameras-of-phones-make-it-choose-another-one-or-write-the-entry-without-one =
    hii si picha inayoweza kuhifadhiwa: JPEG hukubaliwa, kama kamera za simu zinavyotengeneza. Chagua nyingine, au andika bila picha
