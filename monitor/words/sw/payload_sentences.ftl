# Why a message of a board was refused or left out, and why its clock was not believed.
# uncertain
the-settings-do-not-name-this-board-and-count-such-boards-are-listed-already-add-it-to-nodes =
    mipangilio haikitaji kifaa hiki, na vifaa { $count } visivyojulikana vimeorodheshwa tayari; kiongeze kwenye [[nodes]]
# uncertain
the-board-has-more-sensors-than-are-taken-in-count =
    kifaa kina vihisi zaidi ya vinavyopokelewa ({ $count })
# uncertain
the-monitor-itself-could-not-store-it-kind =
    kifuatiliaji chenyewe hakikuweza kuuhifadhi ({ $kind })
# uncertain
the-monitor-itself-could-not-handle-it-kind =
    kifuatiliaji chenyewe hakikuweza kuushughulikia ({ $kind })
# uncertain
the-unit-unit-cannot-be-turned-into-wanted =
    kipimo { $unit } hakiwezi kubadilishwa kuwa { $wanted }
# uncertain
word-is-not-a-number-leave-the-record-out-when-a-sensor-gives-nothing =
    { $word } si namba; acha rekodi hiyo kihisi kisipotoa chochote
# uncertain
cbor-tags-other-than-4-decimal-fraction-have-no-meaning-in-senml =
    lebo za CBOR zaidi ya 4 (sehemu ya desimali) hazina maana katika SenML
# uncertain
the-value-is-too-large-to-be-turned-from-unit-into-wanted =
    thamani ni kubwa mno kubadilishwa kutoka { $unit } kuwa { $wanted }
# uncertain
the-unit-unit-is-a-ratio-in-senml-relative-humidity-needs-rh-0-to-100 =
    kipimo { $unit } ni uwiano katika SenML; unyevu wa hewa unahitaji %RH (0 hadi 100)
# uncertain
a-senml-pack-is-an-array-of-records-in-this-is-something-else =
    furushi la SenML ni orodha ya rekodi ndani ya [ ]; hiki ni kitu kingine
# uncertain
every-record-of-a-senml-pack-is-an-object-at-least-one-is-not =
    kila rekodi ya furushi la SenML ni kitu; angalau moja si hivyo
# uncertain
the-pack-holds-count-records-allowed-1-to-most =
    furushi lina rekodi { $count }; zinazoruhusiwa: 1 hadi { $most }
# uncertain
a-label-occurs-twice-in-one-record =
    jina la sehemu limetokea mara mbili katika rekodi moja
# uncertain
bytes-follow-after-the-end-of-the-cbor-pack =
    kuna baiti baada ya mwisho wa furushi la CBOR
# uncertain
label-must-be-a-number =
    { $label } lazima iwe namba
# uncertain
label-is-not-a-finite-number =
    { $label } si namba yenye kikomo
# uncertain
label-must-be-a-text =
    { $label } lazima iwe maandishi
# uncertain
label-must-be-true-or-false =
    { $label } lazima iwe true au false
# uncertain
label-must-be-base64url-without-padding =
    { $label } lazima iwe base64url bila kujaza
# uncertain
all-records-of-a-pack-must-have-the-same-version-bver =
    rekodi zote za furushi lazima ziwe na toleo moja (bver)
# uncertain
bver-must-be-a-whole-number-above-0 =
    bver lazima iwe namba kamili juu ya 0
# uncertain
the-time-is-further-away-than-any-clock =
    wakati uko mbali kuliko saa yoyote
# uncertain
the-payload-is-neither-utf-8-text-nor-cbor =
    ujumbe si maandishi ya UTF-8 wala CBOR
# uncertain
the-payload-is-not-json-kind-why =
    ujumbe si JSON: { $kind }, { $why }
# uncertain
the-payload-is-neither-json-text-nor-a-cbor-pack-why =
    ujumbe si maandishi ya JSON wala furushi la CBOR ({ $why })
# uncertain
a-label-is-neither-a-number-nor-a-text-or-occurs-twice-in-one-record =
    jina la sehemu si namba wala maandishi, au limetokea mara mbili katika rekodi moja
# uncertain
record-number-why =
    rekodi { $number }: { $why }
# uncertain
the-label-label-must-be-understood-and-is-not =
    sehemu { $label } lazima ieleweke, na haieleweki
# uncertain
an-ask-has-an-id-a-whole-number-that-the-answer-repeats =
    ombi lina id, namba kamili ambayo jibu linarudia
# uncertain
an-ask-with-first-also-has-boot-and-last-which-is-no-smaller-than-first =
    ombi lenye first lina pia boot, na last, ambayo si ndogo kuliko first
# uncertain
a-report-has-a-version-a-text-and-a-boot-a-whole-number =
    ripoti ina version, maandishi, na boot, namba kamili
# uncertain
key-must-be-a-printable-text-of-at-most-most-characters =
    { $key } lazima iwe maandishi yanayochapika ya herufi { $most } zaidi
# uncertain
rssi-dbm-must-be-a-whole-number-of-130-to-20 =
    rssi_dbm lazima iwe namba kamili ya -130 hadi 20
# uncertain
key-must-be-an-object-of-at-most-most-pairs =
    { $key } lazima iwe kitu cha jozi { $most } zaidi
# uncertain
the-payload-has-count-bytes-allowed-most =
    ujumbe una baiti { $count }; zinazoruhusiwa: { $most }
# uncertain
the-payload-is-no-json-object =
    ujumbe si kitu cha JSON
# uncertain
key-must-be-a-whole-number-0-or-above =
    { $key } lazima iwe namba kamili, 0 au zaidi
# uncertain
key-holds-a-pair-that-is-not-usable =
    { $key } ina jozi isiyotumika
# uncertain
the-payload-is-no-json =
    ujumbe si JSON
# uncertain
length-behind-the-time-of-arrival-was-used-instead =
    iko nyuma kwa { $length }; wakati wa kufika umetumika badala yake
# uncertain
length-ahead-the-time-of-arrival-was-used-instead =
    iko mbele kwa { $length }; wakati wa kufika umetumika badala yake
# uncertain
count-minutes =
    dakika { $count }
# uncertain
node-is-not-a-name-for-a-node-letters-digits-only-40-at-most =
    { $node } si jina la kifaa: herufi, tarakimu, - _ . tu, 40 zaidi
# uncertain
the-payload-is-neither-a-number-nor-a-json-object =
    ujumbe si namba wala kitu cha JSON
# uncertain
one-message-cannot-serve-two-nodes-node-and-other =
    ujumbe mmoja hauwezi kutumika kwa vifaa viwili ({ $node } na { $other })
# uncertain
the-mapping-wants-a-bare-number-the-payload-is-a-json-object =
    mpangilio unataka namba tupu; ujumbe ni kitu cha JSON
# uncertain
the-field-field-is-missing-or-not-a-number =
    sehemu { $field } haipo au si namba
# uncertain
the-value-of-quantity-is-not-a-finite-number =
    thamani ya { $quantity } si namba yenye kikomo
# uncertain
the-status-is-word-allowed-online-offline =
    hali ni { $word }; zinazoruhusiwa: online, offline
# uncertain
no-record-could-be-used-why =
    hakuna rekodi iliyoweza kutumika: { $why }
# uncertain
count-days =
    siku { $count }
# uncertain
count-hours =
    saa { $count }
# uncertain
not-a-quantity-that-is-known-here =
    si kipimo kinachojulikana hapa
# uncertain
a-probe-s-name-may-hold-letters-digits-only-40-at-most =
    jina la kipima linaweza kuwa na herufi, tarakimu, - _ . tu, 40 zaidi
# uncertain
holds-no-number =
    haina namba
# uncertain
has-no-unit-it-should-be-unit =
    haina kipimo; inapaswa kuwa { $unit }
# uncertain
older-than-is-taken-in =
    ya zamani kuliko inayopokelewa
# uncertain
lies-in-the-future =
    iko katika wakati ujao
# uncertain
the-payload-is-not-text =
    ujumbe si maandishi
# uncertain
the-mapping-wants-the-field-field-the-payload-is-a-bare-number =
    mpangilio unataka sehemu { $field }; ujumbe ni namba tupu
# uncertain
the-field-field-is-too-large =
    sehemu { $field } ni kubwa mno
# uncertain
the-node-s-level-of-the-topic-may-hold-letters-digits-only-40-at-most =
    ngazi ya kifaa katika mada inaweza kuwa na herufi, tarakimu, - _ . tu, 40 zaidi
# uncertain
the-payload-has-count-bytes-or-more-allowed-most =
    ujumbe una baiti { $count } au zaidi; zinazoruhusiwa: { $most }
# uncertain
no-record-could-be-used-the-pack-holds-no-value =
    hakuna rekodi iliyoweza kutumika: furushi halina thamani yoyote
# uncertain
stands-under-two-base-names-the-probe-belongs-into-n-as-in-probe1-quantity =
    iko chini ya majina mawili ya msingi; kipima kinaingia katika n, kama probe1/quantity
# uncertain
occurs-twice-at-the-same-time-the-first-was-kept =
    imetokea mara mbili kwa wakati mmoja; ya kwanza imehifadhiwa
# uncertain
name-must-be-one-whole-number-0-or-above =
    { $name } lazima iwe namba kamili moja, 0 au zaidi
# uncertain
name-why =
    { $name }: { $why }
